"""Names, tokens, languages and addresses."""

from __future__ import annotations

import socket

import pytest

from scenariokit.serve import addresses
from scenariokit.serve.guard import (
    Admission,
    content_policy,
    is_host_shaped,
    is_same_origin,
    page_language,
)

NAMES = addresses.own_names("0.0.0.0")  # noqa: S104 - only described


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8866", "192.168.7.5", "[::1]:80", "LOCALHOST:1", "[fe80::1%eth0]:9"]
)
def test_is_own_host_numbers_and_own_names_are_accepted(host: str) -> None:
    assert addresses.is_own_host(host, NAMES)


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example:8866", "localhost.evil.example", ""]
)
def test_is_own_host_foreign_names_are_refused(host: str) -> None:
    assert not addresses.is_own_host(host, NAMES)


def test_is_own_host_this_computers_name_is_accepted() -> None:
    assert addresses.is_own_host(f"{socket.gethostname()}:8866", NAMES)


@pytest.mark.parametrize(
    ("origin", "same"),
    [
        (None, True), ("http://10.0.0.5:8866", True), ("https://10.0.0.5:8866", True),
        ("http://10.0.0.5", False), ("http://evil.example", False), ("null", False),
        ("file://10.0.0.5:8866", False),
    ],
)  # fmt: skip
def test_is_same_origin_only_the_page_of_this_server(origin: str | None, same: bool) -> None:
    assert is_same_origin(origin, "10.0.0.5:8866") is same


def test_content_policy_names_no_other_host() -> None:
    policy = content_policy("10.0.0.5:8866")
    assert "http" not in policy.replace("ws://10.0.0.5:8866 wss://10.0.0.5:8866", "")
    assert "frame-ancestors 'self'" in policy
    assert not is_host_shaped("a; script-src *")
    assert not is_host_shaped("a\r\nX: y")


def test_admission_cookies_outlive_a_new_start_only_with_the_same_token() -> None:
    one, same, other = (Admission.at("0.0.0.0", 1, token) for token in ("a" * 9, "a" * 9, "b" * 9))  # noqa: S104
    assert one.cookie_secret == same.cookie_secret != other.cookie_secret
    assert one.is_token("a" * 9)
    assert not one.is_token("ä" * 9)
    assert not one.is_token("")
    open_to_all = Admission.at("127.0.0.1", 1, "")
    assert not open_to_all.is_token("")
    assert open_to_all.cookie_secret != Admission.at("127.0.0.1", 1, "").cookie_secret


@pytest.mark.parametrize(
    ("asked", "accepted", "found"),
    [
        ("es", "fr", "es"), ("es-MX", "", "es_MX"), ("", "fr-CA, es;q=0.3", "fr_CA"),
        ("xx", "", "pt"), ("", "de, en;q=0.1", "en"), ("en", "es", "en"), ("../../etc", "", "pt"),
        ("<script>alert(1)</script>", "*", "pt"),
    ],
)  # fmt: skip
def test_page_language_address_then_browser_then_server(
    asked: str, accepted: str, found: str
) -> None:
    assert page_language(asked, accepted, "pt") == found


def test_lan_address_is_an_address_of_this_computer() -> None:
    found = addresses.lan_address()
    with socket.socket() as probe:
        probe.bind((found, 0))
    assert found not in addresses.other_addresses(found)


def test_address_of_any_interface_shows_one_that_can_be_reached() -> None:
    shown = addresses.address_of("0.0.0.0", 8866, "secret")  # noqa: S104
    assert shown == f"http://{addresses.lan_address()}:8866/?token=secret"
    assert addresses.address_of("::1", 5) == "http://[::1]:5/"
