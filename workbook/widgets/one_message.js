// resolves when the frame at hand has been painted; a page that nobody sees paints none
const paint = () => new Promise((done) => {
  requestAnimationFrame(() => setTimeout(done));
  setTimeout(done, 200);
});

function initialize({ model }) {
  let turn = Promise.resolve();
  let painted = turn;

  async function deliver({ updates, later }, buffers) {
    const found = await Promise.all(
      updates.map(({ id }) => model.widget_manager.get_model(id).catch(() => null)));
    let offset = 0;
    updates.forEach(({ data, buffers: count }, k) => {
      const mine = buffers.slice(offset, offset += count);
      const one = found[k];
      if (!one) return;
      // each model takes its messages one after the other: later ones wait too
      if (later) one.state_change = Promise.all([one.state_change, painted]);
      one._handle_comm_msg({ content: { data }, buffers: mine, parent_header: {} });
    });
    if (!later) painted = paint();
  }

  model.on("msg:custom", (content, buffers) => {
    turn = turn.then(() => deliver(content, buffers)).catch(console.error);
  });
}
function render({ model, el }) {
  el.style.display = "none";
  model.set("ready", true);
  model.save_changes();
}
export default { initialize, render };
