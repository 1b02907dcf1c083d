function keep(event) {
  const target = event.target;
  if (target instanceof Element && target.closest(".wb")) {
    target.setAttribute("data-lm-suppress-shortcuts", "true");
  }
}
function render({ el }) {
  el.style.display = "none";
  document.removeEventListener("focusin", window.wbKeepKeys, true);
  window.wbKeepKeys = keep;
  document.addEventListener("focusin", keep, true);
}
export default { render };
