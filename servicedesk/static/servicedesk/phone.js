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
function typedNumber(text) {
  const plain = text.replace(/[\s']/g, "").replace(",", ".");
  return /^[-+]?\d*\.?\d+$/.test(plain) ? Number(plain) : null;
}
function judge(reading) {
  const input = reading.querySelector("input[inputmode]");
  const unit = reading.querySelector("[name$='.unit']").value;
  const say = reading.querySelector(".say");
  const last = JSON.parse(reading.dataset.lasts)[unit];
  const now = typedNumber(input.value);
  say.classList.remove("much");
  if (now === null || last === undefined) { say.textContent = ""; return; }
  const apart = now - last;
  const decimals = Math.max((input.value.trim().split(/[.,]/)[1] || "").length, Math.abs(last) < 100 ? 1 : 0);
  const shown = Math.abs(apart).toFixed(Math.min(decimals, 3));
  if (Math.abs(apart) < Math.abs(last) * 0.005) say.textContent = reading.dataset.twice || "As last time";
  else say.textContent = shown + " " + unit + (apart > 0 ? " more" : " less") + " than last time";
  if (Math.abs(apart) > Math.abs(last) * 0.25 && !reading.querySelector("[name*='run_hours']")) {
    say.textContent += ". Read it once more, and look at the unit.";
    say.classList.add("much");
  }
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
