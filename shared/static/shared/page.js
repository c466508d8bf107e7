// Small comforts on top of pages that are complete without script.
// After htmx swaps an answer in, keyboard and screen reader go to it; a refused request becomes a whole page.
document.addEventListener("htmx:afterSwap", (event) => {
  const answer = event.detail.target;
  const focus = answer.querySelector("[data-focus]") || answer.closest("[data-focus]");
  if (focus) focus.focus({ preventScroll: false });
});
document.addEventListener("htmx:responseError", (event) => {
  const where = event.detail.pathInfo && event.detail.pathInfo.finalRequestPath;
  if (event.detail.requestConfig.verb === "get" && where) window.location.assign(where);
});
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-print]");
  if (button) window.print();
});
for (const button of document.querySelectorAll("[data-print]")) button.hidden = false;
