// What can only be answered at the pond is asked there, without signal too: odd values while they
// are typed, and what is missing as the page is sent. The server asks the same once more.
const NEAR = 0.12; // as the server's own question: within 12 percent of a factor

function asked(reading) {
  const input = reading.querySelector("input[inputmode]"), unit = reading.querySelector("[name$='.unit']");
  return { input, unit, usual: JSON.parse(reading.dataset.usual || "{}"), hard: JSON.parse(reading.dataset.hard || "{}"), warmth: (reading.dataset.warmth || "").split(" ").filter(Boolean).map(Number) };
}
function inCelsius(value, unit) { return unit === "F" ? (value - 32) / 1.8 : value; }
function fits(value, usual) { return usual && Math.abs(value / usual - 1) <= NEAR; }
// The same number in another unit, or with its point moved by one place; nothing where it fits.
function slipOf({ usual, warmth }, value, unit) {
  if (usual[unit] === undefined) return null;
  const others = Object.keys(usual).filter((other) => other !== unit);
  if (warmth.length) {
    const [near, far] = warmth, off = (name) => Math.abs(inCelsius(value, name) - inCelsius(usual[name], name));
    const other = off(unit) > far && others.find((name) => off(name) <= near);
    return other ? { unit: other, value } : null;
  }
  if (fits(value, usual[unit])) return null;
  const away = (name) => Math.abs(value / usual[name] - 1);
  const meant = others.filter((name) => fits(value, usual[name])).sort((a, b) => away(a) - away(b))[0];
  if (meant) return { unit: meant, value };
  const moved = [value / 10, value * 10].find((one) => fits(one, usual[unit]));
  return moved === undefined ? null : { unit, value: Number(moved.toPrecision(6)) };
}
function inUnit(value, from, to, usual) {
  if (to === "F" || to === "C") return to === from ? value : to === "F" ? value * 1.8 + 32 : inCelsius(value, "F");
  return value * usual[to] / usual[from];
}
function unitName(reading, unit) {
  const option = reading.querySelector(`select[name$='.unit'] option[value="${CSS.escape(unit)}"]`);
  return option ? option.text.trim() : unit;
}
function questionOf(reading) {
  const known = asked(reading), unit = known.unit.value, value = typedNumber(known.input.value);
  const slip = value === null ? null : slipOf(known, value, unit);
  if (!slip) return null;
  const typed = known.input.value.trim(), own = `${typed} ${unitName(reading, unit)}`;
  if (slip.unit === unit) {
    const shown = String(slip.value).replace(".", typed.includes(",") ? "," : ".");
    const meant = { value: `${shown} ${unitName(reading, unit)}` };
    return { says: speak("Did you mean {value}?", meant), yes: speak("Yes, {value}", meant), own, take: () => { known.input.value = shown; } };
  }
  const there = inUnit(value, slip.unit, unit, known.usual);
  const meant = { value: `${typed} ${unitName(reading, slip.unit)} (${there.toFixed(1)} ${unitName(reading, unit)})` };
  return { says: speak("Did you mean {value}?", meant), yes: speak("Yes, {value}", meant), own, take: () => { known.unit.value = slip.unit; } };
}
function choice(name, value, words, press) {
  const label = document.createElement("label"), radio = document.createElement("input");
  Object.assign(radio, { type: "radio", name, value });
  if (press) radio.addEventListener("change", press);
  label.append(radio, " " + words);
  return label;
}
function ask(reading) {
  const asks = questionOf(reading), old = reading.querySelector(".asks");
  if (old && asks && old.dataset.about === asks.says + asks.own) return;
  if (old) old.remove();
  if (!asks || reading.querySelector(`.checks [name="${CSS.escape(reading.dataset.answer)}"]`)) return;
  const name = reading.dataset.answer, box = document.createElement("div"), says = document.createElement("p");
  says.className = "fault";
  says.setAttribute("role", "status");
  says.textContent = asks.says;
  box.className = "checks asks";
  box.dataset.about = asks.says + asks.own;
  const take = () => {
    asks.take();
    reading.querySelectorAll("input[inputmode], [name$='.unit']").forEach((field) => field.dispatchEvent(new Event("input", { bubbles: true })));
    reading.querySelector("input[inputmode]").focus();
  };
  box.append(says, choice(name, "", asks.yes, take), choice(name, "right", speak("I looked again: {value} is right", { value: asks.own })), choice(name, "later", speak("I cannot tell: the office may ask")));
  reading.querySelector(".row").after(box);
}
const readings = [...document.querySelectorAll(".reading")];
readings.forEach((reading) => {
  reading.addEventListener("input", (event) => { if (event.target.type !== "radio") ask(reading); });
});

// What is missing, each with the place that it is about.
function ticked(scope, end) { return scope.querySelector(`input[name$="${end}"]:checked`); }
function groupOf(scope, end) { const one = scope.querySelector(`[name$="${end}"]`); return one && (one.closest("fieldset") || one); }
function answer(scope, end) { const one = ticked(scope, end); return one ? one.value : ""; }
function isWorkDone(work) { const [hidden, chosen] = [work.querySelector("input[type=hidden][name$='.outcome']"), ticked(work, ".outcome")]; return (chosen || hidden || {}).value === "done"; }

function workGaps(work, gaps) {
  const need = (end, says) => { const place = groupOf(work, end); if (place && !ticked(work, end)) gaps.push([place, says]); };
  need(".found.condition", speak("How did the old filter look? Choose one."));
  need(".found.trip", speak("Say what the outlet did when you pressed the test button."));
  need(".found.claim", speak("Say what you saw: was it done as reported?"));
  const serial = work.querySelector("[name$='.found.serial']");
  if (serial && !serial.value.trim() && !ticked(work, ".unreadable")) gaps.push([serial, speak("Type the number on the nameplate, or tick that nobody can read it.")]);
}
function leavingGaps(group, gaps, trips) {
  const found = answer(group, ".found_running"), left = answer(group, ".left_running"), place = groupOf(group, ".left_running");
  if (!found) gaps.push([groupOf(group, ".found_running"), speak("Was it running when you came?")]);
  if (!left && trips.includes("tripped")) gaps.push([place, speak("The test stopped the system. Reset the outlet and see it run, or leave it off and say why.")]);
  else if (!left) gaps.push([place, speak("Is it running as you leave? This must be answered.")]);
  if (left === "yes" && trips.some((trip) => trip && trip !== "tripped")) gaps.push([place, speak("An outlet that fails its test protects nobody: leave the system unplugged, answer no, and a licensed electrician is called.")]);
  const select = (end) => group.querySelector(`select[name$="${end}"]`);
  if (left === "no" && !select(".left_off_reason").value) gaps.push([select(".left_off_reason"), speak("Say why it stays off. The office is told at once.")]);
  if (left === "yes" && found === "no") {
    if (!select(".approved_by").value) gaps.push([select(".approved_by"), speak("You found it off. Leave it off, or name the manager who approved the start.")]);
    if (!ticked(group, ".caution_read")) gaps.push([group.querySelector("[name$='.caution_read']").closest("label"), speak("Read the caution on starting, and tick it.")]);
  }
  return left;
}
function readingGaps(group, gaps, done) {
  const skipped = group.querySelector("select[name$='.skipped_because']");
  if (skipped && skipped.value) return;
  group.querySelectorAll(".reading[data-asked]").forEach((reading) => {
    const wanted = reading.dataset.asked.split(" ").some((ticket) => done.includes(ticket));
    if (wanted && !asked(reading).input.value.trim()) gaps.push([reading, speak("Enter the value, or say below why it was not read.")]);
  });
}
function systemGaps(group, gaps, extra) {
  const works = [...group.querySelectorAll(".work")].filter(isWorkDone), mine = extra && extra.dataset.system === group.dataset.system;
  works.forEach((work) => workGaps(work, gaps));
  if (!group.dataset.system) return;
  const looked = ticked(group, ".found_running") || ticked(group, ".left_running");
  if (!works.length && !mine && !looked) return;
  const trips = works.map((work) => answer(work, ".found.trip"));
  if (mine && extra.dataset.asks === "trip") trips.push(answer(document, "extras.1.found.trip"));
  const left = leavingGaps(group, gaps, trips);
  if (left !== "no") readingGaps(group, gaps, works.map((work) => work.dataset.ticket));
}
function numberGaps(gaps) {
  readings.forEach((reading) => {
    const { input, unit, hard } = asked(reading), text = input.value.trim(), value = typedNumber(text), edges = hard[unit.value];
    if (!text) return;
    if (value === null) gaps.push([reading, /^\d{1,3},\d{3}$/.test(text) ? speak("“{text}” can be read in two ways. Write it without a comma.", { text }) : speak("“{text}” is not a number. Write digits only, such as 6.5.", { text })]);
    else if (edges && (value < edges[0] || value > edges[1])) gaps.push([reading, speak("This must lie between {low} and {high} {unit}. Look again, and check the unit.", { low: edges[0], high: edges[1], unit: unitName(reading, unit.value) })]);
    else if (reading.querySelector(".asks") && !reading.querySelector(".asks :checked")) gaps.push([reading, speak("Answer the question, whichever way.")]);
  });
}
function extraGaps(form, gaps) {
  const what = form.querySelector("[name='extras.1.what']"), extra = what && what.value ? what.selectedOptions[0] : null;
  const half = (text, choose, says) => { const [one, other] = [form.querySelector(`[name="${text}"]`), form.querySelector(`[name="${choose}"]`)]; if (one && other && one.value.trim() && !other.value) gaps.push([other, says]); };
  half("extras.1.note", "extras.1.what", speak("Choose what you did."));
  half("defects.1.text", "defects.1.sign", speak("Choose what you saw."));
  half("hazards.1.note", "hazards.1.kind", speak("Choose what it is."));
  if (extra && extra.dataset.asks === "filter" && !ticked(form, "extras.1.found.condition")) gaps.push([groupOf(form, "extras.1.found.condition"), speak("How did the old filter look? Choose one.")]);
  if (extra && extra.dataset.asks === "trip" && !ticked(form, "extras.1.found.trip")) gaps.push([groupOf(form, "extras.1.found.trip"), speak("Say what the outlet did when you pressed the test button.")]);
  return extra;
}
function gapsOf(form) {
  const gaps = [], reason = groupOf(form, ".not_done_reason"), why = answer(form, ".not_done_reason");
  if (reason && !why) gaps.push([reason, speak("Say why it was not done.")]);
  const extra = extraGaps(form, gaps);
  form.querySelectorAll(".group").forEach((group) => {
    systemGaps(group, gaps, extra);
    if (why === "found_off" && answer(group, ".found_running") !== "no") gaps.push([groupOf(group, ".found_running"), speak("You found it off: answer no here.")]);
  });
  numberGaps(gaps);
  return gaps.sort(([one], [other]) => (one.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1));
}
function mark([place, says]) {
  const fault = document.createElement("p");
  fault.className = "fault gap";
  fault.setAttribute("role", "alert");
  fault.textContent = says;
  for (let part = place.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
  if (place.matches("fieldset, .reading")) {
    place.classList.add("wrong");
    const legend = place.querySelector("legend");
    if (legend) legend.after(fault); else place.prepend(fault);
  } else place.before(fault);
}
function unmark(form) {
  form.querySelectorAll(".gap").forEach((fault) => {
    if (fault.parentElement.matches(".wrong")) fault.parentElement.classList.remove("wrong");
    fault.remove();
  });
}
document.querySelectorAll("form.steps").forEach((form) => form.addEventListener("submit", (event) => {
  unmark(form);
  const gaps = gapsOf(form);
  if (!gaps.length) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  gaps.forEach(mark);
  const first = gaps[0][0];
  first.scrollIntoView({ block: "center" });
  (first.matches("input, select") ? first : first.querySelector("input:not([type=hidden]), select") || first).focus({ preventScroll: true });
}));
