// Where things are, as the page says, and the word that proves a request is ours.

export const LINKS = document.body.dataset;

export function csrf() {
  const found = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
  return found ? decodeURIComponent(found.slice("csrftoken=".length)) : "";
}
