// Comfort at the pond; every page works without it.
// A closing is sent once, however often the button is tapped.
document.querySelectorAll("form").forEach((form) => {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    const clock = form.querySelector("[name=phone_at]");
    if (clock) clock.value = new Date().toISOString(); // so that a clock that is wrong shows
    form.querySelectorAll("button[type=submit]").forEach((button) => button.setAttribute("aria-busy", "true"));
  });
});
// Back from the next page: the form may be sent again.
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form").forEach((form) => { delete form.dataset.sent; });
});

// A number stands beside the one of last time while it is typed.
// As the server reads it: 12,5 and 12.5, 1 250; 1,250 can be read in two ways and is neither.
function typedNumber(text) {
  let plain = text.replace(/\u2212/g, "-").replace(/[\s']/g, "");
  const marks = plain.match(/[.,]/g) || [], point = marks[marks.length - 1];
  if (new Set(marks).size === 2) plain = plain.replaceAll(point === "." ? "," : ".", "");
  else if (marks.length > 1) plain = plain.replaceAll(point, "");
  else if (/^[-+]?[1-9]\d{0,2},\d{3}$/.test(plain)) return null;
  plain = plain.replace(",", ".");
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
}
const SVG = "http://www.w3.org/2000/svg";
function shape(name) {
  const drawn = document.createElementNS(SVG, "svg"), use = document.createElementNS(SVG, "use");
  drawn.setAttribute("aria-hidden", "true");
  use.setAttribute("href", "#s-" + name);
  drawn.append(use);
  return drawn;
}
function decimalsOf(input, last) {
  return Math.min(3, Math.max((input.value.trim().split(/[.,]/)[1] || "").length, Math.abs(last) < 100 ? 1 : 0));
}
// Where today lies on the rail: in the normal band, or how far below or above it.
function inBand(reading, input, now, unit) {
  const rails = JSON.parse(reading.dataset.bands || "{}")[unit];
  const mark = reading.querySelector(".gauge .now");
  reading.querySelectorAll(".gauge").forEach((rail) => rail.classList.remove("ok", "drift"));
  if (mark) mark.setAttribute("display", "none");
  if (!rails || now === null) return null;
  const [low, high, first, after] = rails;
  const share = Math.min(1, Math.max(0, (now - first) / (after - first)));
  mark.setAttribute("x", 100 * share + "%");
  mark.removeAttribute("display");
  const within = now >= low && now <= high;
  reading.querySelector(".gauge").classList.add(within ? "ok" : "drift");
  if (within) return { shape: "ok", says: speak("In the normal band") };
  const away = (now < low ? low - now : now - high).toFixed(decimalsOf(input, high));
  const values = { away, unit: printedUnit(reading, unit) };
  const where = now < low ? speak("{away} {unit} below normal.", values) + " " + reading.dataset.below : speak("{away} {unit} above normal.", values) + " " + reading.dataset.above;
  return { shape: "drift", says: where };
}
function againstLast(reading, input, now, unit) {
  const last = JSON.parse(reading.dataset.lasts)[unit];
  if (now === null || last === undefined) return null;
  const apart = now - last;
  // Hours only grow, and a share of a level that lies at its mark says nothing.
  const shares = !reading.querySelector("[name*='run_hours'], [name*='.level.']");
  const far = shares && Math.abs(apart) > Math.abs(last) * 0.25;
  if (Math.abs(apart) < Math.abs(last) * 0.005) return { says: reading.dataset.twice || speak("As last time"), far };
  const shown = Math.abs(apart).toFixed(decimalsOf(input, last));
  const values = { shown, unit: printedUnit(reading, unit) };
  return { says: apart > 0 ? speak("{shown} {unit} more than last time", values) : speak("{shown} {unit} less than last time", values), far };
}
const quiet = new WeakMap(); // what stood there before anything was typed
// The unit as people write it: °F, not the value that is sent.
function printedUnit(reading, unit) {
  const chosen = reading.querySelector("select[name$='.unit']");
  return chosen && chosen.selectedOptions.length ? chosen.selectedOptions[0].text.trim() : unit;
}
function judge(reading) {
  const input = reading.querySelector("input[inputmode]");
  const unit = reading.querySelector("[name$='.unit']").value;
  const say = reading.querySelector(".say"), now = typedNumber(input.value);
  if (!quiet.has(reading)) quiet.set(reading, [...say.childNodes]);
  const band = inBand(reading, input, now, unit), last = againstLast(reading, input, now, unit);
  say.classList.remove("much", "ok", "drift");
  if (!band && !last) { say.replaceChildren(...quiet.get(reading)); return; }
  const within = band && band.shape === "ok";
  if (band) say.classList.add(band.shape); else if (last.far) say.classList.add("much");
  const compared = within && last ? ", " + last.says[0].toLowerCase() + last.says.slice(1) : "";
  const words = document.createElement("span");
  words.textContent = (band ? band.says + compared : last.says) + (last && last.far ? (within || !band ? "." : "") + " " + speak("Read it once more, and look at the unit.") : "");
  say.replaceChildren(...(band ? [shape(band.shape)] : []), words);
}
document.querySelectorAll(".reading").forEach((reading) => {
  reading.addEventListener("input", () => judge(reading));
  judge(reading);
});

// "Next" on the keypad goes to the next gauge instead of sending a half-filled page.
const gauges = [...document.querySelectorAll("input[inputmode]")];
gauges.forEach((input) => input.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault();
  const next = gauges.slice(gauges.indexOf(input) + 1).find((other) => other.offsetParent);
  if (next) next.focus(); else input.blur();
}));

// The staff fills as steps are answered; the first one that is not is the one in progress.
const steps = [...document.querySelectorAll(".step")];
function isDone(step) {
  const own = (selector) => [...step.querySelectorAll(selector)].filter((field) => !field.closest("details"));
  const names = new Set(own("input[type=radio]").map((radio) => radio.name));
  const typed = own("input[inputmode]");
  if (!names.size && !typed.length) return false;
  return [...names].every((name) => step.querySelector(`[name="${CSS.escape(name)}"]:checked`))
    && typed.every((field) => field.value.trim());
}
function fill() {
  const first = steps.find((step) => !isDone(step));
  steps.forEach((step) => { step.dataset.state = isDone(step) ? "done" : step === first ? "open" : "later"; });
}
document.querySelectorAll("form.steps").forEach((form) => form.addEventListener("input", fill));
fill();

// After a refusal: to the first place that is marked.
const wrong = document.querySelector(".fault, .errors");
if (wrong) (document.querySelector(".fault") || wrong).scrollIntoView({ block: "center" });
