// Who uses this phone, for the page that opens without signal: an id, no name. Signing out forgets it and the kept page.

const NAME = "film.person";

/** @param {string} id */
export function rememberPerson(id) {
  try {
    localStorage.setItem(NAME, id);
  } catch {
    // A browser that keeps nothing: the guide still opens while there is signal.
  }
}

export function personHere() {
  try {
    return localStorage.getItem(NAME) ?? "";
  } catch {
    return "";
  }
}

export async function forgetPerson() {
  try {
    localStorage.removeItem(NAME);
    for (const name of await caches.keys()) if (name.startsWith("guide-")) await caches.delete(name);
    for (const one of await navigator.serviceWorker.getRegistrations()) await one.unregister();
  } catch {
    // Nothing was kept where nothing can be.
  }
}

/** @param {string} address */
export async function keepGuide(address) {
  if (!("serviceWorker" in navigator)) return;
  try {
    await navigator.serviceWorker.register(address, { scope: "/" });
  } catch {
    // Private windows and old browsers: the guide needs signal there.
  }
}
