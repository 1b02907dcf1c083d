function keep(event) {
  const target = event.target;
  if (target instanceof Element && target.closest(".wb")) {
    target.setAttribute("data-lm-suppress-shortcuts", "true");
  }
}
function bringReplyIntoView(event) {
  const exercise = event.key === "Enter" && event.target instanceof Element && event.target.closest(".wb-exercise");
  if (!exercise) return;
  new MutationObserver((_, watching) => {
    watching.disconnect();
    exercise.querySelector(".wb-verdict")?.scrollIntoView({ block: "nearest" });
  }).observe(exercise, { childList: true, subtree: true });
}
function render({ el }) {
  el.style.display = "none";
  const { focusin, keydown } = window.wbKeys ?? {};
  document.removeEventListener("focusin", focusin, true);
  document.removeEventListener("keydown", keydown, true);
  window.wbKeys = { focusin: keep, keydown: bringReplyIntoView };
  document.addEventListener("focusin", keep, true);
  document.addEventListener("keydown", bringReplyIntoView, true);
}
export default { render };
