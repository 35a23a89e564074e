"""What a page may send to its kernel."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from room_client import PROTOCOL, message_parts, packed

from scenariokit.serve.kernels import ALLOWED_MESSAGES
from scenariokit.serve.sockets import is_allowed

FORBIDDEN = (
    "execute_request", "complete_request", "inspect_request", "history_request", "debug_request",
    "shutdown_request", "interrupt_request", "input_reply", "is_complete_request",
    "create_subshell_request", "usage_request",
)  # fmt: skip


def told(kind: str, channel: str = "shell") -> bytes:
    return packed(channel, message_parts(kind, {"code": "1 + 1"}, "s")[1])


@pytest.mark.parametrize("kind", ALLOWED_MESSAGES)
def test_is_allowed_talk_of_widgets_passes_in_both_protocols(kind: str) -> None:
    assert is_allowed(told(kind), PROTOCOL)
    assert is_allowed(json.dumps({"channel": "shell", "header": {"msg_type": kind}}), None)


@pytest.mark.parametrize("channel", ["shell", "control", "stdin", "iopub"])
@pytest.mark.parametrize("kind", FORBIDDEN)
def test_is_allowed_code_and_commands_are_refused(kind: str, channel: str) -> None:
    assert not is_allowed(told(kind, channel), PROTOCOL)
    text = json.dumps({"channel": channel, "header": {"msg_type": kind}})
    assert not is_allowed(text, None)


def test_is_allowed_other_channels_are_refused() -> None:
    assert not is_allowed(told("comm_msg", "stdin"), PROTOCOL)
    assert not is_allowed(told("comm_msg", "iopub"), PROTOCOL)


def test_is_allowed_header_that_is_not_the_one_passed_on_is_refused() -> None:
    good = told("comm_msg")
    count = int.from_bytes(good[:8], "little")
    marks = [int.from_bytes(good[8 * i : 8 * i + 8], "little") for i in range(1, count + 1)]
    marks[0], marks[1] = marks[1], marks[0]
    turned = good[:8] + b"".join(mark.to_bytes(8, "little") for mark in marks)
    assert not is_allowed(turned + good[len(turned) :], PROTOCOL)
    assert not is_allowed(good[:40], PROTOCOL)


@given(st.binary(max_size=300) | st.text(max_size=300))
def test_is_allowed_anything_else_is_refused_without_an_error(message: bytes | str) -> None:
    assert not is_allowed(message, PROTOCOL)
    assert not is_allowed(message, None)
