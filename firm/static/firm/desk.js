// Small things for the desk; every page works without this file.
// After a refusal the first wrong field has the focus, so that nobody has to look for it.
const wrong = document.querySelector('[aria-invalid="true"]');
if (wrong) wrong.focus();
// After a part of the page was swapped, forms in it start with the focus where it was (htmx keeps it by id).
document.addEventListener("htmx:responseError", (event) => {
  const say = document.getElementById("messages");
  if (say) say.textContent = `The server answered ${event.detail.xhr.status}. Nothing was changed; load the page again.`;
});
document.addEventListener("htmx:sendError", () => {
  const say = document.getElementById("messages");
  if (say) say.textContent = "No connection to the server. Nothing was changed.";
});
