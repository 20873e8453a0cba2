// After a part of the page was exchanged, say what is shown now and keep the keyboard where it was.
document.addEventListener("htmx:afterSettle", () => {
  const count = document.querySelector("[data-count]");
  if (!count) return;
  document.getElementById("said").textContent = count.textContent.trim();
  if (document.activeElement === document.body) count.focus();
});
