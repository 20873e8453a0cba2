// Alone without signal: what he says waits like a closing, and the page says what that is worth.
async function keepAlone(payload, words, place, more) {
  const uuid = crypto.randomUUID();
  await outbox.keep({ uuid, format: outbox.FORMAT, user: Number(day.user), who: day.who, made: Date.now(), words, place, path: "", draft: "", alone: true, to: `/day/check-ins/${uuid}/`, payload: { uuid, ...payload }, photos: [], ...more });
  outbox.flush();
}
function backBy(text) {
  const at = new Date(), [hours, mins] = text.split(":").map(Number);
  at.setHours(hours, mins, 0, 0);
  if (at <= Date.now()) at.setDate(at.getDate() + 1);
  return at;
}
async function alone(form) {
  const at = backBy(form.elements.back_by.value), words = speak("Alone at {place}, back by {time}", { place: form.dataset.place, time: clock(at) });
  if (at - Date.now() > 12 * 3600e3) { form.before(notice("late", speak("Give a time to come, within the next twelve hours."))); return; }
  await keepAlone({ check_in: crypto.randomUUID(), stop: form.dataset.alone, begun_at: new Date().toISOString(), back_by: at.toISOString() }, words, form.dataset.place, { stop: form.dataset.alone });
  form.before(notice("due", speak("Kept on this phone, and not with the office: nobody looks for you before this phone has signal. Agree on a time by voice. When you are back, press “I am all right” above.")));
}
async function allRight(checkIn, place) {
  await keepAlone({ check_in: checkIn, all_right: "yes" }, speak("All right, {place}", { place }), place, {});
  said.textContent = speak("Kept on this phone.");
}
