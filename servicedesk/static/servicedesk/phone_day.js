// The day's pages: what waits stands always in view, forms go through the outbox, photos are made
// small, and in the morning the worker fetches what a pond without signal will need.
const day = document.querySelector("meta[name=day]").dataset;
const main = document.getElementById("main"), said = document.getElementById("said");
const SIGN_IN = "/accounts/login/?next=" + encodeURIComponent(location.pathname);
const LONGEST_OPEN = 8 * 3600e3, LONGEST_SIDE = 1600, CLOCK_OFF = 600e3;
const openedAt = Date.now();

function made(tag, words, attributes = {}) {
  const element = document.createElement(tag);
  if (words) element.textContent = words;
  Object.entries(attributes).forEach(([name, value]) => element.setAttribute(name, value));
  return element;
}
function button(words, press) {
  const pressed = made("button", words, { type: "button", class: "btn" });
  pressed.addEventListener("click", press);
  return pressed;
}
function notice(kind, words) {
  const says = made("p", "", { class: "notice " + kind });
  says.append(shape(kind), made("span", words));
  return says;
}
function clock(at) { return new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }); }
function minutes(ms) {
  const off = Math.round(Math.abs(ms) / 60e3);
  if (off < 120) return speakMany(off, "{n} minute", "{n} minutes");
  return off < 2880 ? speakMany(Math.round(off / 60), "{n} hour", "{n} hours") : speakMany(Math.round(off / 1440), "{n} day", "{n} days");
}

// What waits.
const bar = made("section", "", { class: "outbox", "aria-label": speak("What waits on this phone"), hidden: "" });
main.before(bar);
function isOwn(record) { return String(record.user) === day.user; }
function standing(record) {
  if (!isOwn(record)) return speak("Recorded by {who}. It is sent when {who} signs in on this phone.", { who: record.who });
  const photos = record.photos.length ? speakMany(record.photos.length, "{n} photo", "{n} photos") : "";
  if (record.alone) return speak("Kept on this phone, {time}. The office knows nothing of it yet: nobody looks for you before this phone has signal.", { time: clock(record.made) });
  if (record.closed) return photos ? speak("Received; still to send: {photos}", { photos }) : speak("Received");
  const time = clock(record.made);
  return photos ? speak("Kept on this phone, {time}, {photos}", { time, photos }) : speak("Kept on this phone, {time}", { time });
}
function acts(record) {
  const row = made("div", "", { class: "two" });
  const offTime = record.refused && record.refused.drift && Math.abs(record.refused.drift) > 300e3
    && Object.keys(record.refused.faults).some((name) => name === "arrived_at" || name === "left_at");
  if (offTime) row.append(button(speak("Set its times by the office's clock"), () => outbox.again(record.uuid, setRight)));
  if (record.refused && record.path) row.append(button(speak("Mend it"), () => mend(record)));
  row.append(button(speak("Send it again"), () => outbox.again(record.uuid)), button(speak("Throw it away"), () => {
    if (confirm(speak("Throw this away for good? Nobody has received it."))) outbox.change(record.uuid, (one) => { one.gone = true; }).then(() => document.getElementById("kept") && location.assign("/day/"));
  }));
  return row;
}
// The phone's clock was wrong: what it recorded moves by what it is off.
function setRight(record) {
  ["arrived_at", "left_at"].forEach((name) => {
    const at = Date.parse(record.payload[name]);
    if (at) record.payload[name] = new Date(at - record.refused.drift).toISOString();
  });
}
function line(record) {
  const item = made("li"), refused = record.refused || record.photos.find((photo) => photo.refused);
  item.append(made("b", record.words), made("span", standing(record), { class: "quiet" }));
  if (record.alone && record.payload.back_by && isOwn(record)) item.append(button(speak("I am all right"), () => allRight(record.payload.check_in, record.place)));
  if (refused && isOwn(record)) item.append(made("p", record.refused ? record.refused.says : speak("Photo: {says}", { says: refused.refused }), { class: "fault" }), acts(record));
  return item;
}
function headline(waiting) {
  const own = waiting.filter(isOwn), refused = own.filter((one) => one.refused).length;
  const n = waiting.length;
  if (refused) return ["late", speakMany(n, "{n} waiting to send, {refused} not taken: look at it", "{n} waiting to send, {refused} not taken: look at it", { refused })];
  if (!own.length) return ["due", speakMany(n, "{n} waiting to send, of somebody else", "{n} waiting to send, of somebody else")];
  if (outbox.now.state === "lost") return ["due", speakMany(n, "{n} waiting to send. No signal; it goes by itself", "{n} waiting to send. No signal; it goes by itself")];
  return ["due", speakMany(n, "{n} waiting to send", "{n} waiting to send")];
}
function paintBar(waiting) {
  const wasOpen = bar.querySelector("details[open]"), at = document.activeElement && bar.contains(document.activeElement);
  bar.hidden = !waiting.length;
  bar.replaceChildren();
  if (!waiting.length) return;
  const [kind, words] = headline(waiting), part = made("details"), head = made("summary"), list = made("ul", "", { class: "rows" });
  head.append(shape(kind), made("span", words));
  waiting.forEach((record) => list.append(line(record)));
  part.append(head, list);
  part.open = Boolean(wasOpen) || waiting.some((record) => record.alone && isOwn(record));
  bar.className = "outbox " + kind;
  bar.append(part);
  if (at) head.focus();
  if (outbox.now.state === "nobody" && waiting.some(isOwn)) bar.append(made("a", speakMany(waiting.filter(isOwn).length, "Sign in to send {n} waiting", "Sign in to send {n} waiting"), { class: "btn main wide", href: SIGN_IN }));
  if (Math.abs(outbox.now.drift) > CLOCK_OFF) bar.append(made("p", outbox.now.drift > 0 ? speak("The clock of this phone is {by} ahead. Set it right; the office sees both times.", { by: minutes(outbox.now.drift) }) : speak("The clock of this phone is {by} behind. Set it right; the office sees both times.", { by: minutes(outbox.now.drift) }), { class: "quiet small" }));
}
// Where a stop or ticket is named that waits, it says so.
function paintLinks(waiting) {
  document.querySelectorAll(".tag.waits").forEach((tag) => tag.remove());
  const mark = (where, kind, words) => document.querySelectorAll(where).forEach((link) => {
    const tag = made("span", "", { class: `tag ${kind} waits` });
    tag.append(shape(kind), words);
    link.append(tag);
  });
  Object.entries(outbox.taken()).forEach(([ticket, at]) => {
    if (at > day.at * 1000) mark(`.taplist a[href="/day/ticket/${ticket}/"]`, "ok", speak("Received"));
  });
  waiting.filter((record) => !record.closed).forEach((record) => {
    const done = Object.entries(record.payload.works || {}).filter(([, work]) => work.outcome);
    const where = done.map(([ticket]) => `.taplist a[href="/day/ticket/${ticket}/"]`);
    if (record.stop) where.push(`.stoplist a[href="/day/stop/${record.stop}/"] .what`);
    if (where.length) mark(where.join(", "), "due", speak("Waiting to send"));
  });
}
function paintKept(waiting) {
  const kept = document.getElementById("kept");
  if (!kept || waiting.some((record) => record.uuid === kept.dataset.uuid && !record.closed)) return;
  kept.querySelector("h1").textContent = speak("Received");
  kept.querySelector("p").textContent = speak("The office has it.");
}
let painting = Promise.resolve();
function paint() {
  painting = painting.then(async () => {
    const waiting = await outbox.all();
    paintBar(waiting); paintLinks(waiting); paintKept(waiting);
  }).catch(() => cannotKeep(speak("This browser keeps nothing for this site. So these pages cannot work without signal: what you send goes at once, or not at all.")));
}
let told = false;
function cannotKeep(why) {
  if (told) return;
  told = true;
  outbox.able = false;
  main.prepend(notice("due", why));
}

// A closing: kept first, sent then.
function payloadOf(form) {
  const payload = {};
  for (const [name, value] of new FormData(form)) {
    if (typeof value !== "string" || name === "csrfmiddlewaretoken") continue;
    const path = name.split("."), last = path.pop();
    path.reduce((node, step) => (node[step] = node[step] || {}), payload)[last] = value;
  }
  const now = Date.now();
  if (!payload.arrived_at && payload.late !== "yes") {
    payload.arrived_at = new Date(now - form.dataset.openedAt > LONGEST_OPEN ? now : Number(form.dataset.openedAt)).toISOString();
    payload.left_at = payload.left_at || new Date(now).toISOString();
  }
  return payload;
}
function recordOf(form) {
  const payload = payloadOf(form), place = main.querySelector(".place");
  const words = [".job", "h1"].map((part) => place.querySelector(part).textContent.trim()).join(", ");
  return {
    uuid: payload.uuid, format: outbox.FORMAT, user: Number(day.user), who: day.who, made: Date.now(), words,
    path: form.getAttribute("action"), draft: draftPath(form), stop: payload.stop, payload, photos: photosOf(form).splice(0),
  };
}
// As a page without script does it; the server marks each place that is wrong.
function plainly(form, pressed) {
  if (pressed && pressed.name) form.append(made("input", "", { type: "hidden", name: pressed.name, value: pressed.value }));
  form.querySelectorAll("input[type=file]").forEach((input) => { input.disabled = true; });
  const token = form.querySelector("[name=csrfmiddlewaretoken]");
  if (token && outbox.now.token) token.value = outbox.now.token;
  form.submit();
}
async function mend(record) {
  if (!await outbox.ask()) { paint(); return; }
  const form = made("form", "", { method: "post", action: record.path, hidden: "" });
  const add = (name, value) => form.append(made("input", "", { type: "hidden", name, value }));
  const flat = (node, path) => Object.entries(node).forEach(([key, value]) => (typeof value === "object" ? flat(value, path + key + ".") : add(path + key, value)));
  flat(record.payload, "");
  add("csrfmiddlewaretoken", outbox.now.token);
  document.body.append(form);
  form.submit();
}
function showKept(record) {
  const box = made("div", "", { id: "kept", "data-uuid": record.uuid }), head = made("div", "", { class: "place" }), acts = made("p", "", { class: "acts" });
  head.append(made("h1", speak("Kept on this phone"), { class: "plainname" }));
  box.append(head, made("p", speak("{what}. It is sent by itself as soon as there is signal, while these pages are open.", { what: record.words })), acts);
  if (record.stop) acts.append(made("a", speak("Back to the stop"), { class: "btn main wide", href: `/day/stop/${record.stop}/` }));
  acts.append(made("a", speak("My day"), { class: "btn wide", href: "/day/" }));
  main.replaceChildren(box);
  main.focus();
  scrollTo(0, 0);
}
async function closing(form) {
  await shrinking;
  const record = recordOf(form);
  try {
    await outbox.keep(record);
  } catch (error) {
    photosOf(form).push(...record.photos);
    again(form);
    if (!record.photos.length && await outbox.ask()) { plainly(form); return; }
    main.prepend(notice("late", speak("Nothing was kept, nothing was sent: this phone has no room ({fault}). Leave this page open, make room or take photos off, and press again.", { fault: error.name })));
    scrollTo(0, 0);
    return;
  }
  said.textContent = speak("Kept on this phone.");
  await Promise.race([outbox.flush(record.uuid), new Promise((done) => setTimeout(done, 5000))]);
  const still = (await outbox.all()).find((one) => one.uuid === record.uuid);
  if (!still || still.closed) location.assign(`/day/visit/${record.uuid}/`);
  else if (still.refused && still.refused.status === 400) plainly(form);
  else { showKept(record); paint(); }
}

// Photos: small, upright, without the place where they were taken.
const taken = new WeakMap();
let shrinking = Promise.resolve();
function photosOf(form) {
  if (!taken.has(form)) taken.set(form, []);
  return taken.get(form);
}
async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = made("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return new Promise((good, bad) => canvas.toBlob((blob) => (blob ? good(blob) : bad(new Error("no picture"))), "image/jpeg", 0.82));
}
function showPhotos(form) {
  const list = form.querySelector(".photos");
  if (!list) return;
  list.replaceChildren(...photosOf(form).map((photo, place) => {
    const item = made("li"), image = made("img", "", { alt: speak("Photo {number}", { number: place + 1 }), src: URL.createObjectURL(photo.blob) });
    image.addEventListener("load", () => URL.revokeObjectURL(image.src));
    item.append(image, button(speak("Take it off"), () => { photosOf(form).splice(place, 1); showPhotos(form); keepDraft(form); }));
    return item;
  }));
}
async function addPhotos(form, input) {
  const problem = form.querySelector(".photo-fault");
  problem.textContent = "";
  for (const file of [...input.files]) {
    try {
      photosOf(form).push({ uuid: crypto.randomUUID(), blob: await shrunk(file) });
    } catch {
      problem.textContent = speak("{file} cannot be read as a photo. Take it again, or set the camera to the most compatible format.", { file: file.name });
    }
  }
  input.value = "";
  showPhotos(form);
  await keepDraft(form);
}

// What is typed is there again after the phone has thrown the page out of its memory.
function draftPath(form) { return day.user + form.getAttribute("action"); }
async function keepDraft(form) {
  if (form.dataset.sent) return;
  const fields = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !HIDDEN.has(name));
  const draft = { path: draftPath(form), uuid: form.elements.uuid.value, at: Number(form.dataset.openedAt), fields, photos: photosOf(form) };
  await outbox.keepDraft(draft).catch(() => {});
}
const HIDDEN = new Set(["csrfmiddlewaretoken", "uuid", "stop", "site", "opened_at", "pass", "late", "phone_at"]);
function isChanged(field) {
  if (field.options) return field.selectedIndex > 0;
  if (/radio|checkbox/.test(field.type)) return field.checked && !field.defaultChecked && field.value !== "";
  return field.value !== field.defaultValue;
}
async function bringBack(form) {
  const draft = await outbox.draft(draftPath(form)).catch(() => null);
  if (!draft || Date.now() - draft.at > LONGEST_OPEN) return;
  form.elements.uuid.value = draft.uuid;
  form.dataset.openedAt = draft.at;
  const typed = new Map(draft.fields);
  [...form.elements].forEach((field) => {
    if (!field.name || HIDDEN.has(field.name) || field.type === "file" || field.type === "hidden") return;
    if (field.type === "radio" || field.type === "checkbox") field.checked = typed.get(field.name) === field.value;
    else if (typed.has(field.name)) field.value = typed.get(field.name);
    for (let part = isChanged(field) && field.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
  });
  photosOf(form).push(...draft.photos);
  showPhotos(form);
  form.dispatchEvent(new Event("input", { bubbles: true }));
  form.querySelectorAll(".reading input[inputmode]").forEach((input) => input.dispatchEvent(new Event("input", { bubbles: true })));
  const again = notice("drift", speak("What you entered here since {time} is here again.", { time: clock(draft.at) }));
  again.append(button(speak("Start afresh"), async () => { await outbox.dropDraft(draftPath(form)); location.reload(); }));
  form.before(again);
}
function prepare(form) {
  const wrong = document.querySelector(".errors");
  form.dataset.openedAt = (wrong && Date.parse(form.elements.opened_at.value)) || openedAt;
  form.elements.opened_at.value = new Date(Number(form.dataset.openedAt)).toISOString();
  if (!wrong) form.elements.uuid.value = crypto.randomUUID(); // a kept page is opened many times
  form.addEventListener("submit", (event) => {
    if (event.defaultPrevented || !outbox.able) return;
    event.preventDefault();
    closing(form);
  });
  const input = form.querySelector("input[type=file]");
  if (input) input.addEventListener("change", () => { shrinking = shrinking.then(() => addPhotos(form, input)); });
  let later;
  form.addEventListener("input", () => { clearTimeout(later); later = setTimeout(keepDraft, 400, form); });
  if (!wrong) bringBack(form);
}

// Whoever leaves takes the day along; what waits is his to send.
async function leaving(form) {
  const waiting = (await outbox.all().catch(() => [])).length;
  const asks = speakMany(waiting, "{n} closing waits on this phone. Nothing is lost, and nothing is sent until you sign in here again. Sign out?", "{n} closings wait on this phone. Nothing is lost, and nothing is sent until you sign in here again. Sign out?");
  again(form);
  if (waiting && !confirm(asks)) return;
  await outbox.ask();
  if (outbox.now.state === "lost") { main.prepend(notice("late", speak("Signing out needs signal."))); return; }
  await outbox.clearPages();
  plainly(form);
}

// What is not recorded in the outbox goes to the server at once, or says that it cannot.
async function atOnce(form, pressed) {
  if (await outbox.ask()) { plainly(form, pressed); return; }
  if (outbox.now.state !== "lost") { location.assign(SIGN_IN); return; }
  again(form);
  if (form.dataset.alone) { await alone(form); return; }
  if (form.dataset.allRight) { await allRight(form.dataset.allRight, form.dataset.place); form.before(notice("due", speak("Kept on this phone. The office hears of it as soon as there is signal."))); return; }
  form.before(notice("late", speak("No signal: this cannot be done from here now.")));
}
function again(form) {
  delete form.dataset.sent;
  form.querySelectorAll("[aria-busy]").forEach((one) => one.removeAttribute("aria-busy"));
}

function morning() {
  const worker = navigator.serviceWorker, keep = document.querySelector("[data-keep]");
  worker.register("/day/worker.js", { scope: "/day/", updateViaCache: "none" }).catch(() => {});
  const seen = location.pathname.match(/^(\/day\/stop\/[^/]+\/)way-in\/$/); // the code that was shown stays for today
  if (seen) worker.ready.then((ready) => ready.active.postMessage({ keep: [seen[1]], anew: true }));
  if (!keep) return;
  const says = document.getElementById("kept-day");
  worker.addEventListener("message", (event) => {
    const { kept, of, end } = event.data;
    says.textContent = kept === of ? speak("All of today is on this phone.") : end ? speak("{kept} of {of} pages of today are on this phone. Open this list again with signal.", { kept, of }) : speak("Fetching today: {kept} of {of} pages.", { kept, of });
    says.dataset.kept = kept === of ? "all" : "part";
  });
  worker.ready.then((ready) => ready.active.postMessage({ keep: keep.dataset.keep.split(" ") }));
}
// By the office's clock, where it answers: the phone's own may be wrong.
async function sayAge() {
  const age = Date.now() - day.at * 1000;
  if (Math.abs(age) < 120e3) return;
  const off = await outbox.ask() ? outbox.now.drift : 0;
  if (age - off > 120e3) main.prepend(notice("drift", speak("Without signal: this page is as it was at {time}.", { time: clock(day.at * 1000 + off) })));
}

// Two ponds may bear one name: whoever lets the phone know where it is, is asked when that is far
// away. The position is not kept and goes nowhere.
const FAR_M = 500, EARTH_M = 6371e3;
function metres(lat, lon, other, across) {
  const turn = Math.PI / 180, half = (angle) => Math.sin((angle * turn) / 2) ** 2;
  const share = half(other - lat) + Math.cos(lat * turn) * Math.cos(other * turn) * half(across - lon);
  return 2 * EARTH_M * Math.asin(Math.sqrt(share));
}
function long(m) { return day.units === "us" ? (m / 1609.344).toFixed(1) + " mi" : (m / 1000).toFixed(1) + " km"; }
function compare(place, asked) {
  navigator.geolocation.getCurrentPosition(({ coords }) => {
    const apart = metres(coords.latitude, coords.longitude, Number(place.dataset.lat), Number(place.dataset.lon));
    if (apart - coords.accuracy > FAR_M) place.after(notice("due", speak("You are {far} from {name}. Is this the right pond? You may go on all the same.", { far: long(apart), name: place.dataset.name })));
    else if (asked) place.after(notice("ok", speak("This is the place, as far as the phone can tell.")));
  }, () => { if (asked) place.after(notice("rest", speak("The phone cannot tell where it is."))); }, { maximumAge: 60e3, timeout: 20e3 });
}
async function rightPond(place) {
  if (!place || !navigator.permissions || !navigator.geolocation) return;
  const allowed = (await navigator.permissions.query({ name: "geolocation" })).state;
  if (allowed === "granted") compare(place, false);
  if (allowed !== "prompt") return;
  const ask = button(speak("Is this the right pond?"), () => { ask.remove(); compare(place, true); });
  place.append(ask);
}
function begin() {
  sayAge();
  rightPond(document.querySelector(".place[data-lat]"));
  outbox.dropOldDrafts(Date.now() - LONGEST_OPEN).catch(() => {});
  document.querySelectorAll("form.steps").forEach(prepare);
  document.querySelectorAll("form[action*='/logout/']").forEach((form) => form.addEventListener("submit", (event) => { event.preventDefault(); leaving(form); }));
  main.querySelectorAll("form:not(.steps)").forEach((form) => form.addEventListener("submit", (event) => {
    if (event.defaultPrevented || form.method !== "post") return;
    event.preventDefault();
    atOnce(form, event.submitter);
  }));
  outbox.on(paint);
  paint();
  morning();
  outbox.flush();
  setInterval(() => outbox.flush(), 30e3);
  addEventListener("online", () => outbox.flush());
  document.addEventListener("visibilitychange", () => { if (!document.hidden) outbox.flush(); });
}
if (outbox.able) begin();
else cannotKeep(window.isSecureContext ? speak("This browser cannot keep what you record. So these pages cannot work without signal: what you send goes at once, or not at all.") : speak("This address is opened without HTTPS. So these pages cannot work without signal: what you send goes at once, or not at all."));
