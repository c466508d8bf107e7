// Small comforts on top of pages that are complete without script.
// After htmx swaps an answer in, keyboard and screen reader go to it, or to the first field that was refused.
// A request that fails becomes a whole page, so that its error is seen.
document.addEventListener("htmx:afterSwap", (event) => {
  // The swapped element is replaced whole: what stands in the page now is found by its id.
  const answer = document.getElementById(event.detail.target.id) || event.detail.target;
  const focus = answer.querySelector("[aria-invalid=true]") || answer.querySelector("[data-focus]");
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
