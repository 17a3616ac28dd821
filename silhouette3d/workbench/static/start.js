// Runs before everything else on the page.

// The client that follows reads where and how to connect from the address, and then
// takes that away again; so it is put there anew each time the page is loaded.
{
  const page = document.documentElement;
  const here = window.location;
  const query = new URLSearchParams({
    sessionURL: `ws://${here.host}${here.pathname}ws`,
    secret: page.dataset.secret,
  });
  delete page.dataset.secret;
  window.history.replaceState(null, "", `${here.pathname}?${query}`);
}

// Leaving with unsaved changes is asked about. This listener comes first, and keeps the
// client from closing the connection while the question is open: one may stay.
window.addEventListener("beforeunload", (event) => {
  if (window.workbench?.unsaved) {
    event.preventDefault();
    event.stopImmediatePropagation();
  }
});

// Light or dark: as the system has it, unless chosen here.
{
  const page = document.documentElement;
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  let chosen = null;
  try {
    chosen = window.localStorage.getItem("silhouette3d-look");
  } catch {
    // no storage: as the system has it
  }
  const follow = () => {
    page.dataset.look = system.matches ? "dark" : "light";
  };
  if (chosen === "dark" || chosen === "light") page.dataset.look = chosen;
  else {
    follow();
    system.addEventListener("change", follow);
  }
}
