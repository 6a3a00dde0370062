/**
 * Lets a form be sent once: <form data-once>. The server refuses a second time too; this only spares the coach a doubt.
 * @param {HTMLFormElement} form
 */
export function sendOnce(form) {
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) event.preventDefault();
    sent = true;
    form.setAttribute("aria-busy", "true");
  });
  // Coming back by the browser's back button brings the same page to life again.
  addEventListener("pageshow", () => { sent = false; form.removeAttribute("aria-busy"); });
}
