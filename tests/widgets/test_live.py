import asyncio
import logging
import threading
import time

import pytest

from workbook.errors import InputError, Problem
from workbook.widgets.controls import NumberControl
from workbook.widgets.live import STOPPED, Live, ProgressBar


def control():
    return NumberControl("mass", "g", 500, 0, 1000, 10)


def test_each_event_computes_once():
    one, two, seen = control(), control(), []
    live = Live({"a": one, "b": two}, lambda a, b: a + b, seen.append)
    one.slider.value = 600.0
    two.box.value = "700"
    assert seen == [1000, 1100, 1300]
    assert live.result == live.current() == 1300


def test_refused_input_is_reported_and_the_last_result_stays():
    def compute(mass_g):
        if mass_g > 800:
            raise InputError([Problem("mass is <too> high.", "mass"), "mend it."])
        return mass_g

    mass, seen = control(), []
    live = Live({"mass_g": mass}, compute, seen.append)
    mass.value = 900
    assert live.problems == ("mass: mass is <too> high.", "mend it.")
    assert "&lt;too&gt;" in live.message.value
    assert "last values that worked" in live.message.value
    assert (seen, live.result, live.current()) == ([500], 500, None)
    mass.value = 700
    assert (live.problems, live.message.value, seen) == ((), "", [500, 700])


def test_a_refusal_has_the_labels_that_stand_beside_the_controls():
    def refuse(burst_a, mass):
        raise InputError([Problem("64 is below current_a; no mass of burst_a is.", "burst_a")])

    live = Live({"burst_a": control(), "mass": control()}, refuse, lambda result: None)
    assert live.problems == ("mass: 64 is below current_a; no mass of mass is.",)


@pytest.mark.parametrize("place", ["compute", "render"])
def test_a_fault_is_one_sentence_and_logged(place, caplog):
    def fail(*_, **__):
        raise ZeroDivisionError("secret detail")

    compute, render = (fail, print) if place == "compute" else (lambda mass_g: 1, fail)
    with caplog.at_level(logging.ERROR):
        live = Live({"mass_g": control()}, compute, render)
    assert len(live.problems) == 1
    assert "internal fault" in live.problems[0]
    assert "ZeroDivisionError" in live.problems[0]
    assert "Traceback" not in live.message.value
    assert "secret detail" in caplog.text


def test_many_changes_held_are_one_run():
    one, two, seen = control(), control(), []
    live = Live({"a": one, "b": two}, lambda a, b: (a, b), seen.append)
    with live.held():
        one.value = 600
        two.value = 700
    assert seen == [(500, 500), (600, 700)]


def test_slow_runs_never_queue_and_the_newest_wins():
    mass, seen, computed = control(), [], []

    def compute(mass_g):
        computed.append(mass_g)
        time.sleep(0.02)
        return mass_g

    async def drag():
        live = Live({"mass_g": mass}, compute, seen.append, slow=True)
        for value in range(510, 1000, 10):
            mass.value = value
            await asyncio.sleep(0)
        await live.settled()

    asyncio.run(drag())
    assert seen[-1] == 990
    assert computed[-1] == 990
    assert len(computed) <= 4, "49 events: the first, those of the drag that fitted in, the newest"


def test_a_run_of_over_half_a_second_says_so_and_can_be_stopped():
    mass, seen, go_on = control(), [], threading.Event()

    def compute(mass_g):
        if mass_g > 500:
            go_on.wait(20)
        return mass_g

    async def drag():
        live = Live({"mass_g": mass}, compute, seen.append, slow=True)
        shown = live.progress.cancel_button.layout
        mass.value = 800
        await asyncio.sleep(0.1)
        early = shown.display
        await asyncio.sleep(1.0)
        late, messages = shown.display, live.progress.text.value
        live.progress.cancel_button.click()
        await live.settled()
        go_on.set()
        return early, late, shown.display, messages, live.problems

    early, late, after, messages, problems = asyncio.run(drag())
    assert (early, late, after) == ("none", "", "none")
    assert "working" in messages
    assert problems == (STOPPED,)
    assert seen == [500], "what was rendered last stays"


def test_slow_without_an_event_loop_computes_at_once():
    mass, seen = control(), []
    Live({"mass_g": mass}, lambda mass_g: mass_g, seen.append, slow=True)
    mass.value = 800
    assert seen == [500, 800]


def test_a_failing_preview_is_reported_and_breaks_no_page():
    mass, seen = control(), []

    def moved(**values):
        raise InputError("no flight lasts.")

    live = Live({"mass_g": mass}, lambda mass_g: mass_g, seen.append, slow=True, preview=moved)
    messages = []
    live.message.observe(lambda change: messages.append(change["new"]), names="value")
    mass.value = 800
    assert "no flight lasts." in messages[0]
    assert seen == [500, 800]


def test_slow_faults_are_reported():
    mass = control()

    def compute(mass_g):
        if mass_g > 800:
            raise InputError("too heavy.")
        return mass_g

    async def drag():
        live = Live({"mass_g": mass}, compute, print, slow=True)
        mass.value = 900
        await live.settled()
        return live.problems

    assert asyncio.run(drag()) == ("too heavy.",)


def test_a_bar_only_for_long_work_and_the_cancel_is_heard():
    now = [0.0]
    progress = ProgressBar(clock=lambda: now[0])
    with progress.running("flights") as report:
        assert report(1, 10)
        assert progress.bar.layout.display == "none"
        now[0] = 0.8
        assert report(4, 10)
        assert progress.bar.layout.display == ""
        assert "flights: 4 of 10 (40 %)" in progress.text.value
        progress.cancel_button.click()
        assert report(5, 10) is False
    assert progress.bar.layout.display == "none"
    assert progress.text.value == ""
    with progress.running("again") as report:
        assert report(1, 2), "a cancel is for one piece of work"


def test_work_in_a_thread_is_shown_by_the_loop():
    async def work():
        now = [0.0]
        progress = ProgressBar(clock=lambda: now[0])

        def slow():
            with progress.running("flights") as report:
                now[0] = 1.0
                report(1, 2)
                shown = progress.bar.layout.display
            return shown

        first = await asyncio.to_thread(slow)
        await asyncio.sleep(0.01)
        return first, progress.bar.value, progress.bar.layout.display

    before, value, after = asyncio.run(work())
    assert value == 0.5
    assert after == "none"
    assert before in ("none", "")


def test_a_first_run_that_loads_what_it_uses_does_not_make_the_next_ones_slow(monkeypatch):
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.05)
    mass, seen, takes_s = control(), [], [0.1, 0.0, 0.0]

    def compute(mass_g):
        time.sleep(takes_s.pop(0))
        return mass_g

    async def changes():
        live = Live({"mass_g": mass}, compute, seen.append)
        await live.settled()
        mass.value = 600  # beside, for the one before was long
        await live.settled()
        mass.value = 700
        return list(seen)

    assert asyncio.run(changes()) == [500, 600, 700]
    assert takes_s == [], "each was computed once"


def test_what_is_read_afterwards_waits_until_the_values_rest():
    mass, asked, marks = control(), [], []

    async def changes():
        live = Live(
            {"mass_g": mass},
            lambda mass_g: asked.append(mass_g),
            lambda _: None,
            slow=True,
            rest_s=0.3,
            mark_stale=marks.append,
        )
        for value in (600, 700, 800):
            mass.value = value
            await asyncio.sleep(0.0)
        before = list(asked)
        await live.settled()
        return before

    assert asyncio.run(changes()) == [500]
    assert asked == [500, 800]
    assert marks[-1] is False
    assert True in marks


def slowly(mass_g):
    time.sleep(0.1)
    return mass_g


def test_a_first_result_that_takes_long_comes_after_the_page_and_says_so(monkeypatch):
    """And what was set meanwhile is computed too, beside."""
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)
    mass, seen, marks = control(), [], []

    async def page():
        live = Live({"mass_g": mass}, slowly, seen.append, mark_stale=marks.append)
        with_the_page, stale = list(seen), marks[-1]
        mass.value = 600
        await asyncio.sleep(0.06)
        message, cancel = live.progress.text.value, live.progress.cancel_button.layout.display
        await live.settled()
        return with_the_page, stale, message, cancel, live.progress.text.value

    with_the_page, stale, message, cancel, after = asyncio.run(page())
    assert (with_the_page, stale, cancel) == ([], True, "")
    assert "first figures" in message
    assert (after, seen, marks[-1]) == ("", [500, 600], False)


def test_a_first_result_that_is_quick_is_there_with_the_page_and_nothing_flashes():
    async def page():
        seen, marks = [], []
        live = Live({"mass_g": control()}, slowly, seen.append, mark_stale=marks.append)
        return seen, marks, live.progress.text.value

    assert asyncio.run(page()) == ([500], [False], "")


def test_a_first_result_that_was_stopped_leaves_a_live_page(monkeypatch):
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)
    mass, seen = control(), []

    async def page():
        live = Live({"mass_g": mass}, slowly, seen.append)
        await asyncio.sleep(0.03)
        live.progress.cancel_button.click()
        await live.settled()
        stopped, message, shown = live.problems, live.message.value, list(seen)
        mass.value = 600
        await live.settled()
        return stopped, message, shown, live.problems

    stopped, message, shown, after = asyncio.run(page())
    assert (stopped, shown, after, seen) == ((STOPPED,), [], (), [600])
    assert "Not computed." in message
    assert "last values" not in message


def test_a_first_result_that_is_refused_is_reported(monkeypatch):
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)

    def compute(mass_g):
        time.sleep(0.05 if mass_g == 500 else 0.0)
        raise InputError("too heavy.")

    async def page(mass_g):
        mass = control()
        mass.value = mass_g
        live = Live({"mass_g": mass}, compute, print)
        await live.settled()
        return live.problems

    assert asyncio.run(page(500)) == asyncio.run(page(600)) == ("too heavy.",)


def test_a_long_run_says_that_it_works_and_stays_usable(monkeypatch):
    """A computation that is found to be long runs beside the event loop from then on."""
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)
    mass, seen = control(), []

    async def change():
        live = Live({"mass_g": mass}, slowly, seen.append, rest_s=0.0)
        await live.settled()
        mass.value = 600
        immediately = list(seen)
        await asyncio.sleep(0.06)
        meanwhile = live.progress.text.value
        await live.settled()
        return immediately, meanwhile, live.progress.text.value

    immediately, meanwhile, after = asyncio.run(change())
    assert immediately == [500]  # the drag did not wait
    assert "is for the values before" in meanwhile
    assert (after, seen) == ("", [500, 600])


def test_work_that_tells_how_far_it_is_has_one_cancel_and_hears_it(monkeypatch):
    """The page's own bar is the only one: waited for by the page, and moved by the work."""
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)

    async def change():
        mass, progress = control(), ProgressBar(room_px=34)

        def compute(mass_g):
            with progress.running("flights") as report:
                for done in range(1000):
                    if not report(done, 1000):
                        return f"{mass_g:g}, stopped"
                    if mass_g > 500:
                        time.sleep(0.005)
            return f"{mass_g:g}"

        live = Live({"mass_g": mass}, compute, lambda _: None, slow=True, progress=progress)
        bars = [part for part in live.status.children if isinstance(part, ProgressBar)]
        mass.value = 600
        await asyncio.sleep(0.3)
        message = progress.text.value
        progress.cancel_button.click()
        await live.settled()
        await asyncio.sleep(0.01)
        return bars, message, live.result, progress.text.value

    bars, message, result, after = asyncio.run(change())
    assert bars == []
    assert "of 1,000" in message
    assert result == "600, stopped"
    assert after == ""
