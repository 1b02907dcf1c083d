"""What comes in two messages is put on the page in two steps, in order, and the newest wins."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from workbook.widgets.one_message import OneMessage

pytestmark = pytest.mark.browser

STAGE = """async ([script, paints]) => {
  if (!paints) window.requestAnimationFrame = () => 0;
  window.log = [];
  window.frames = 0;
  if (paints) { const count = () => { frames += 1; requestAnimationFrame(count); }; requestAnimationFrame(count); }
  const widget = (id) => ({
    state_change: Promise.resolve(),
    _handle_comm_msg({ content }) {
      this.state_change = this.state_change.then(() => log.push([id, content.data, frames]));
    },
  });
  window.widgets = { chart: widget("chart"), other: widget("other") };
  let heard = null;
  const model = {
    widget_manager: { get_model: async (id) => widgets[id] ?? Promise.reject(Error(id)) },
    on: (_, listener) => { heard = listener; },
  };
  const url = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  (await import(url)).default.initialize({ model });
  window.tell = (id, data, later) => heard({ updates: [{ id, data, buffers: 0 }], later }, []);
  window.wait = (ms) => new Promise((done) => setTimeout(done, ms));
}"""
"""Two widgets that note in which frame they are told what, each message after the one before, as real ones do."""


@pytest.fixture(params=[True, False], ids=["seen", "hidden"])
def stage(browser: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    page = browser.new_page()
    page.evaluate(STAGE, [OneMessage._esm, request.param])
    yield page, request.param
    page.close()


def test_the_second_waits_for_a_frame_and_what_comes_after_it_stays_after(stage: Any) -> None:
    page, paints = stage
    log = page.evaluate(
        """async () => {
          tell("chart", 1, false); tell("gone", 1, false); tell("other", 1, true);
          await wait(0);
          widgets.other._handle_comm_msg({ content: { data: 2 } });  // by itself, as a reply to a press is
          await wait(400);
          return log;
        }"""
    )
    assert [entry[:2] for entry in log] == [["chart", 1], ["other", 1], ["other", 2]]
    first, second, _ = (frame for _, _, frame in log)
    assert (second > first) == paints, (
        "a page that nobody sees paints no frame, and is told all the same"
    )


def test_thirty_moves_at_once_come_in_order_and_end_with_the_newest(stage: Any) -> None:
    page, _ = stage
    log = page.evaluate(
        """async () => {
          for (let k = 0; k < 30; k++) {
            tell("chart", k, false); tell("other", k, true);
            await wait(k % 3 * 8);
          }
          await wait(400);
          return log;
        }"""
    )
    for widget in ("chart", "other"):
        assert [number for name, number, _ in log if name == widget] == list(range(30))
