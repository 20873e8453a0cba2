// What waits on this phone until the server has taken it: closings, and their photos.
// Nothing is said to be kept before its transaction has ended; nothing goes before it was taken.
const outbox = (() => {
  const FORMAT = 1; // of a record; the server understands each that a phone may still hold
  const able = Boolean(window.isSecureContext && window.indexedDB && navigator.locks && window.crypto.randomUUID && window.caches);
  const channel = able ? new BroadcastChannel("outbox") : null;
  const listeners = [];
  const now = { state: "", token: "", user: null, drift: 0, edition: "" };
  let opened = null;

  function base() {
    opened = opened || new Promise((good, bad) => {
      const asked = indexedDB.open("outbox", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("waiting", { keyPath: "uuid" });
        asked.result.createObjectStore("drafts", { keyPath: "path" });
      };
      asked.onerror = () => bad(asked.error);
      asked.onsuccess = () => {
        const shut = () => { opened = null; };
        asked.result.onclose = shut;
        asked.result.onversionchange = () => { asked.result.close(); shut(); };
        good(asked.result);
      };
    });
    opened.catch(() => { opened = null; });
    return opened;
  }
  async function within(mode, work) {
    const open = await base();
    return new Promise((good, bad) => {
      const deed = open.transaction(["waiting", "drafts"], mode, { durability: "strict" });
      let found;
      deed.oncomplete = () => good(found);
      deed.onabort = () => bad(deed.error || new Error("not kept"));
      work(deed.objectStore("waiting"), deed.objectStore("drafts"), (value) => { found = value; });
    });
  }
  async function all() {
    const found = await within("readonly", (waiting, _, give) => {
      waiting.getAll().onsuccess = (event) => give(event.target.result);
    });
    return found.sort((a, b) => a.seq - b.seq);
  }
  // A closing that is mended keeps its number, its place and its photos.
  async function keep(record) {
    await within("readwrite", (waiting, drafts) => {
      waiting.getAll().onsuccess = (event) => {
        const others = event.target.result, old = others.find((one) => one.uuid === record.uuid);
        record.seq = old ? old.seq : 1 + Math.max(0, ...others.map((one) => one.seq));
        if (old) record.photos = [...old.photos, ...record.photos];
        waiting.put(record);
        drafts.delete(record.draft);
      };
    });
    changed();
    navigator.storage.persist().catch(() => {});
  }
  // One step on the record as it stands now; what the work leaves empty is taken away.
  async function change(uuid, work) {
    await within("readwrite", (waiting) => {
      waiting.get(uuid).onsuccess = (event) => {
        const record = event.target.result;
        if (!record) return;
        work(record);
        if (record.gone || (record.closed && !record.photos.length)) waiting.delete(uuid);
        else waiting.put(record);
      };
    });
    changed();
  }
  function changed() {
    if (channel) channel.postMessage("changed");
    listeners.forEach((listener) => listener());
  }
  if (channel) channel.onmessage = () => listeners.forEach((listener) => listener());

  async function call(address, options, patience) {
    const answer = await fetch(address, { redirect: "error", credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(patience), ...options });
    // A gate of some other network may answer anything; ours answers JSON.
    return { ...await answer.json(), status: answer.status };
  }
  async function ask() {
    const begun = Date.now();
    try {
      const says = await call("/day/session/", {}, 8000);
      if (says.status === 200) {
        now.drift = (begun + Date.now()) / 2 - Date.parse(says.now);
        Object.assign(now, { user: says.user, token: says.token, edition: says.edition, state: "" });
      } else now.state = { 401: "nobody", 403: "gone" }[says.status] || "lost";
      if (now.state === "gone") await clearPages(); // no longer one of the firm
    } catch {
      now.state = "lost";
    }
    return !now.state;
  }
  function post(address, type, body, patience) {
    return call(address, { method: "POST", headers: { "Content-Type": type, "X-CSRFToken": now.token }, body }, patience);
  }
  // A page that was kept before shows a ticket as open that was taken since.
  function received(record) {
    const day = new Date().toDateString(), before = taken();
    const works = Object.entries(record.payload.works || {}).filter(([, work]) => work.outcome);
    try { localStorage.setItem("received", JSON.stringify({ day, at: { ...before, ...Object.fromEntries(works.map(([ticket]) => [ticket, Date.now()])) } })); } catch { /* full: only a mark is missing */ }
  }
  function taken() {
    try {
      const kept = JSON.parse(localStorage.getItem("received") || "{}");
      return kept.day === new Date().toDateString() ? kept.at : {};
    } catch { return {}; }
  }
  // Whether to go on; a refusal stays on the phone with its sentence.
  async function sendClosing(record, shown) {
    const extra = { format: record.format, phone_at: new Date().toISOString() };
    if (shown === record.uuid) extra.shown = "yes";
    const says = await post("/day/visits/", "application/json", JSON.stringify({ ...record.payload, ...extra }), 20000);
    if (says.status < 300 && says.visit === record.uuid) await change(record.uuid, (one) => { one.closed = true; delete one.refused; received(one); });
    else if (says.status === 401) { now.state = "nobody"; return false; }
    else if (says.status >= 400 && says.status < 500) await change(record.uuid, (one) => { one.refused = { status: says.status, says: says.says, faults: says.faults || {}, drift: now.drift }; });
    else throw new Error("the server is away");
    return true;
  }
  async function sendPhoto(record, photo) {
    const says = await post(`/day/photos/${photo.uuid}/?visit=${record.uuid}`, "image/jpeg", photo.blob, 60000);
    if (says.status === 401) { now.state = "nobody"; return false; }
    if (says.status < 300 && says.photo === photo.uuid) await change(record.uuid, (one) => { one.photos = one.photos.filter((other) => other.uuid !== photo.uuid); });
    else if (says.status >= 400 && says.status < 500) await change(record.uuid, (one) => { one.photos.forEach((other) => { if (other.uuid === photo.uuid) other.refused = says.says; }); });
    else throw new Error("the server is away");
    return true;
  }
  async function sendAll(shown) {
    if (!(await all()).length || !await ask()) return;
    const own = (await all()).filter((record) => record.user === now.user);
    for (const record of own) {
      if (!record.closed && !record.refused && !await sendClosing(record, shown)) return;
    }
    for (const record of own) {
      for (const photo of record.photos) if (!photo.refused && !await sendPhoto(record, photo)) return;
    }
  }
  // One tab at a time; whatever goes wrong, what waits goes on waiting.
  async function flush(shown) {
    if (!able) return;
    try {
      await navigator.locks.request("outbox", () => sendAll(shown));
    } catch {
      now.state = "lost";
    }
    changed();
  }
  async function again(uuid, mend) {
    await change(uuid, (record) => {
      if (mend) mend(record);
      delete record.refused;
      record.photos.forEach((photo) => { delete photo.refused; });
    });
    await flush();
  }
  async function draft(path) {
    return within("readonly", (_, drafts, give) => { drafts.get(path).onsuccess = (event) => give(event.target.result); });
  }
  function dropOldDrafts(before) {
    return within("readwrite", (_, drafts) => {
      drafts.openCursor().onsuccess = ({ target: { result: at } }) => {
        if (!at) return;
        if (at.value.at < before) at.delete();
        at.continue();
      };
    });
  }
  async function clearPages() {
    if (!window.caches) return;
    for (const name of await caches.keys()) if (name.startsWith("day/")) await caches.delete(name);
  }
  return {
    FORMAT, able, now, all, taken, keep, change, flush, again, ask, draft, dropOldDrafts, clearPages,
    on: (listener) => listeners.push(listener),
    keepDraft: (one) => within("readwrite", (_, drafts) => { drafts.put(one); }),
    dropDraft: (path) => within("readwrite", (_, drafts) => { drafts.delete(path); }),
  };
})();

// On the page for signing in: who has left takes the day's pages off; what waits is counted.
const signIn = document.getElementById("waits");
if (signIn && outbox.able) {
  if (new URLSearchParams(location.search).has("left")) outbox.clearPages();
  else caches.keys().then((names) => names.some((name) => name.startsWith("day/")) && outbox.ask());
  outbox.all().then((waiting) => {
    signIn.hidden = !waiting.length;
    signIn.querySelector("b").textContent = waiting.length;
  }, () => {});
}
