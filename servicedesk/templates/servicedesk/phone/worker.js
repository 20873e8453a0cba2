{% load i18n %}// Keeps the day's pages for ponds without signal. It touches GET alone: what is recorded goes
// through the outbox of the pages.
const EDITION = "{{ edition }}", ASSETS = {{ assets|safe }};
const FILES = "files/" + EDITION, PATIENCE_MS = 4000, FRESH_MS = 600000, LOST_MS = 20000;
let lostAt = 0; // when the server did not answer last

addEventListener("install", (event) => event.waitUntil((async () => {
  const files = await caches.open(FILES);
  await files.addAll(ASSETS.map((url) => new Request(url, { cache: "reload" })));
  await skipWaiting();
})()));
addEventListener("activate", (event) => event.waitUntil(dropOldDays().then(() => clients.claim())));

addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(page(event));
  else if (url.pathname.includes("/static/") || ASSETS.includes(url.pathname + url.search)) event.respondWith(file(event.request));
});

// Of any edition: a page kept in the morning asks for the files of the morning.
async function file(request) {
  return await caches.match(request) || fetch(request);
}

async function page(event) {
  await dropOldDays();
  const kept = await keptPage(event.request.url);
  const answer = fetch(event.request).then(async (fresh) => {
    if (kept && fresh.status >= 500) throw new Error("the server is away");
    lostAt = 0;
    event.waitUntil(keep(event.request.url, fresh.clone()));
    return fresh;
  });
  try {
    if (!kept) return await answer;
    const patience = Date.now() - lostAt < LOST_MS ? 500 : PATIENCE_MS;
    const late = new Promise((done, failed) => setTimeout(failed, patience));
    return await Promise.race([answer, late]);
  } catch {
    lostAt = Date.now();
    answer.catch(() => {});
    return kept || missing();
  }
}

async function days() {
  return (await caches.keys()).filter((name) => name.startsWith("day/"));
}
async function keptPage(url) {
  for (const name of await days()) {
    const found = await (await caches.open(name)).match(url);
    if (found) return found;
  }
}
// Only what the server marked: a page of this person's own route of today.
async function keep(url, answer) {
  const mark = answer.headers.get("X-Keep");
  if (!answer.ok || answer.redirected || !mark) return false;
  const [user, day, seconds] = mark.split("/"), name = `day/${user}/${day}`;
  for (const other of await days()) if (other !== name) await caches.delete(other);
  const cache = await caches.open(name), headers = new Headers(answer.headers);
  if (!await cache.match("/day/until")) await cache.put("/day/until", new Response(String(Date.now() + seconds * 1000)));
  headers.delete("Content-Encoding"); // what is kept is unpacked
  headers.delete("Content-Length");
  headers.set("X-Kept-At", Date.now());
  headers.set("X-Kept-By", EDITION);
  await cache.put(url, new Response(await answer.blob(), { headers }));
  return true;
}
async function dropOldDays() {
  for (const name of await days()) {
    const until = await (await caches.open(name)).match("/day/until");
    if (until && Number(await until.text()) < Date.now()) await caches.delete(name);
  }
}

addEventListener("message", (event) => {
  if (event.data.keep) event.waitUntil(keepAll(event.data.keep, event.source, event.data.anew));
});
async function keepAll(urls, asker, anew) {
  let kept = 0;
  const tell = (end) => asker && asker.postMessage({ kept, of: urls.length, end });
  for (const url of urls) {
    if (await keepOne(url, anew)) kept += 1;
    if (!anew) tell(false);
  }
  if (anew) return;
  tell(true);
  if (kept < urls.length) return;
  // Every page is of this edition now: files of others are not asked for any more.
  for (const name of await caches.keys()) if (name.startsWith("files/") && name !== FILES) await caches.delete(name);
}
async function keepOne(url, anew) {
  const full = new URL(url, location.origin).href, old = await keptPage(full);
  const at = old ? Number(old.headers.get("X-Kept-At")) : 0;
  if (old && !anew && Math.abs(Date.now() - at) < FRESH_MS && old.headers.get("X-Kept-By") === EDITION) return true;
  try {
    return await keep(full, await fetch(full, { headers: { "X-Keeping": "yes" } })) || false;
  } catch {
    return Boolean(old);
  }
}

function missing() {
  const words = `<!DOCTYPE html><html lang="{% get_current_language as language %}{{ language }}"><meta charset="utf-8"><title>{% translate "No signal" %}</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="stylesheet" href="${ASSETS[0]}"><link rel="stylesheet" href="${ASSETS[1]}">
<main class="ticket"><div class="place"><h1 class="plainname">{% translate "No signal" %}</h1></div><p>{% translate "This page is not on this phone. Only today's stops and tickets are, from the moment you open the day with signal." %}</p><p class="acts"><a class="btn main wide" href="/day/">{% translate "My day" %}</a></p></main></html>`;
  return new Response(words, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
