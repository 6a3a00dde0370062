// Offers the browser's own time zone in <select name="time_zone"> until somebody chooses another one.
//   {% module "js/behaviours/own_zone.js" %}

/** @type {HTMLSelectElement | null} */
const select = document.querySelector('select[name="time_zone"]');
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (select && own && !document.querySelector(".errorlist")) {
  const option = Array.from(select.options).find((each) => each.value === own);
  if (option) option.selected = true;
}
