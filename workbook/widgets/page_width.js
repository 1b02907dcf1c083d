function render({ model, el }) {
  el.style.display = "none";
  let waiting = 0;
  const measure = () => {
    const panel = el.isConnected ? el.closest(".wb") : null;
    const width = panel ? Math.floor(panel.clientWidth) : 0;
    const short = window.innerHeight < 620;
    if (width > 0 && (Math.abs(width - model.get("width")) > 8 || short !== model.get("short"))) {
      model.set({ width, short });
      model.save_changes();
    }
  };
  const later = () => { clearTimeout(waiting); waiting = setTimeout(measure, 120); };
  const observer = new ResizeObserver(later);
  const begin = () => {
    const panel = el.closest(".wb");
    if (panel) { observer.observe(panel); measure(); } else { requestAnimationFrame(begin); }
  };
  begin();
  window.addEventListener("resize", later);
  return () => { observer.disconnect(); window.removeEventListener("resize", later); clearTimeout(waiting); };
}
export default { render };
