// Lets the walk open without signal: its worker is installed from the Walk's own page.
const here = document.querySelector("script[data-worker]");
navigator.serviceWorker?.register(here.dataset.worker, { scope: "/" }).catch(() => {});
