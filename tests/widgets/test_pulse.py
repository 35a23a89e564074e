"""The pulse: one answer for each question, whatever the beat does."""

from __future__ import annotations

import logging

from scenariokit.widgets.pulse import Pulse


def beaten(beat):
    pulse = Pulse(beat)
    sent = []
    pulse.send = sent.append
    return pulse, sent


def test_pulse_beats_once_for_each_tick_and_answers():
    beats = []
    pulse, sent = beaten(lambda: beats.append(1))
    for _ in range(3):
        pulse._received(pulse, {"kind": "tick"}, [])
    assert (len(beats), sent) == (3, [{"kind": "tock"}] * 3)


def test_pulse_answers_after_a_fault_and_traces_it(caplog):
    def broken():
        raise RuntimeError("no")

    pulse, sent = beaten(broken)
    with caplog.at_level(logging.ERROR):
        pulse._received(pulse, {"kind": "tick"}, [])
    assert sent == [{"kind": "tock"}]
    assert "RuntimeError" in caplog.text


def test_pulse_other_messages_do_nothing():
    beats = []
    pulse, sent = beaten(lambda: beats.append(1))
    pulse._received(pulse, {"kind": "other"}, [])
    assert (beats, sent) == ([], [])
