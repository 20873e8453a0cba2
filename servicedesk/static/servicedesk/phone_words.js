// What the phone's scripts say: in English here, and in the reader's language where the page
// brings it along (templatetags/phone_words.py).
const catalog = JSON.parse((document.getElementById("words") || {}).textContent || "{}");
const plurals = new Intl.PluralRules(document.documentElement.lang || "en");
function filled(words, values) {
  return words.replace(/\{(\w+)\}/g, (place, name) => (name in values ? values[name] : place));
}
function speak(words, values = {}) { return filled(catalog[words] || words, values); }
function speakMany(n, one, many, values = {}) {
  const forms = catalog[one];
  return filled(forms ? forms[plurals.select(n)] || forms.other : n === 1 ? one : many, { n, ...values });
}
