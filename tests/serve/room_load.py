"""Forty people at one laptop: open, move sliders, load files, load the page anew, leave.

The full run, about a quarter of an hour::

    python tests/serve/room_load.py --people 40 --minutes 15 --browsers 3

Everything goes to 127.0.0.1. Most of the people are programs that speak what a
page speaks; a few, with ``--browsers``, are pages in a real browser.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import statistics
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from room_client import Person, kernels_below, processes_below, proportional_bytes

HARVEST = b"method,crop,mass_kg,area_m2\nmedium_bag,potato,12,3\n"
SLIDER = ("prices.labour_price", 4.0)
PICKER = "Load my harvest weights (CSV or XLSX)"
TYPING_SECONDS = 2.0
"""Between two moves of one person, on average."""


@dataclass
class Report:
    """What a run has shown."""

    people: int
    ready: list[float] = field(default_factory=list)
    moves: list[float] = field(default_factory=list)
    reloads: list[float] = field(default_factory=list)
    uploads: int = 0
    failures: list[str] = field(default_factory=list)
    memory_each: float = 0.0
    memory_whole: float = 0.0
    kernels_at_work: int = 0
    kernels_left: int = -1
    browsers: list[float] = field(default_factory=list)

    def text(self) -> str:
        """Return it as a few lines."""
        lines = [
            f"{len(self.ready)} of {self.people} people had a working board",
            f"time to ready: {spread(self.ready)}",
            f"moves: {len(self.moves)}, latency {spread(self.moves)}",
            f"page loaded anew: {len(self.reloads)} times, {spread(self.reloads)}",
            f"files loaded: {self.uploads}",
            f"memory: {self.memory_each / 1e6:.0f} MB a person, {self.memory_whole / 1e6:.0f} MB"
            f" all together (proportional), {self.kernels_at_work} kernels",
            f"real pages: {spread(self.browsers)}",
            f"kernels left after all had gone: {self.kernels_left}",
            f"failures: {len(self.failures)}",
        ]
        return "\n".join([*lines, *(f"  {line[:300]}" for line in self.failures[:20])])


def spread(seconds: list[float]) -> str:
    """Return median, 95th percentile and worst."""
    if not seconds:
        return "none"
    ordered = sorted(seconds)
    near_worst = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    return (
        f"median {statistics.median(ordered):.2f} s, 95 % within {near_worst:.2f} s, "
        f"worst {ordered[-1]:.2f} s"
    )


async def act(person: Person, end: float, report: Report, chance: random.Random) -> None:
    """Move sliders until the end, now and then load a file or the page anew."""
    key, middle = SLIDER
    while time.monotonic() < end:
        await asyncio.sleep(chance.uniform(0.5, 1.5) * TYPING_SECONDS)
        what = chance.random()
        if what < 0.02:
            await person.leave()
            start = time.perf_counter()
            await person.open()
            report.reloads.append(time.perf_counter() - start)
        elif what < 0.06:
            said = await person.upload(PICKER, "weights.csv", HARVEST)
            assert said, "nothing was said about a file"
            report.uploads += 1
        else:
            value = round(middle * chance.uniform(0.2, 3.0), 5)  # never the same one twice
            report.moves.append(await person.move(key, value))


async def be_there(
    person: Person, all_ready: asyncio.Event, minutes: float, report: Report, number: int
) -> None:
    """Come, act and stay; what goes wrong goes into the report."""
    try:
        await person.open()
        report.ready.append(person.ready_seconds)
    except Exception as error:  # noqa: BLE001 - every kind of failure is what this looks for
        report.failures.append(f"person {number}, coming: {error!r}")
        return
    await all_ready.wait()
    try:
        end = time.monotonic() + 60 * minutes
        await act(person, end, report, random.Random(number))  # noqa: S311 - any will do
    except Exception as error:  # noqa: BLE001
        report.failures.append(f"person {number}, acting: {error!r}")


async def run(server: Any, people: int, minutes: float) -> Report:
    """Send people into a room that runs, and return what became of them."""
    report = Report(people)
    address = f"http://127.0.0.1:{server.port}/"
    persons = [Person(address) for _ in range(people)]
    all_ready = asyncio.Event()
    tasks = [
        asyncio.create_task(be_there(one, all_ready, minutes, report, number))
        for number, one in enumerate(persons)
    ]
    while len(report.ready) + len(report.failures) < people:
        await asyncio.sleep(0.1)
    all_ready.set()
    await asyncio.sleep(min(5.0, 30 * minutes))
    measure(server.process_id, report)
    await asyncio.gather(*tasks)
    await asyncio.gather(*(one.leave() for one in persons if one.kernel))
    report.kernels_left = await left_over(server)
    return report


def measure(process: int, report: Report) -> None:
    """Note what is used while everybody is at work."""
    kernels = kernels_below(process)
    each = [proportional_bytes(one) for one in kernels]
    report.kernels_at_work = len(kernels)
    report.memory_each = sum(each) / max(1, len(each))
    everything = (process, *processes_below(process))
    report.memory_whole = float(sum(proportional_bytes(one) for one in everything))


async def left_over(server: Any) -> int:
    """Return how many kernels there are besides those that are kept ready."""
    end = time.monotonic() + 30
    most = server.limits.ready + 2  # the two other offers have one each
    while (count := len(kernels_below(server.process_id))) > most and time.monotonic() < end:
        await asyncio.sleep(0.2)
    return max(0, count - most)


async def real_pages(address: str, count: int, report: Report) -> None:
    """Open some pages in a real browser."""
    import shutil

    from playwright.async_api import async_playwright

    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )

        async def one() -> None:
            page = await (await browser.new_context()).new_page()
            start = time.perf_counter()
            try:
                await page.goto(address + "board", timeout=240_000)
                await page.wait_for_selector(
                    ".sk-charts figure svg, .sk-charts figure canvas", timeout=240_000
                )
                report.browsers.append(time.perf_counter() - start)
            except Exception as error:  # noqa: BLE001
                report.failures.append(f"real page: {error!r}")

        await asyncio.gather(*(one() for _ in range(count)))
        await browser.close()


async def whole(server: Any, people: int, minutes: float, browsers: int) -> Report:
    """Run programs and real pages side by side."""
    pages = Report(browsers)
    task = asyncio.create_task(
        real_pages(f"http://127.0.0.1:{server.port}/", browsers, pages)
        if browsers
        else asyncio.sleep(0)
    )
    report = await run(server, people, minutes)
    await task
    report.browsers, report.failures = pages.browsers, report.failures + pages.failures
    return report


def main() -> None:
    """Run and print the report."""
    from scenariokit.serve import BoardServer, RoomWish

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=40)
    parser.add_argument("--minutes", type=float, default=15)
    parser.add_argument("--browsers", type=int, default=0)
    parser.add_argument("--ready", type=int)
    parser.add_argument("--one-by-one", action="store_true")
    asked = parser.parse_args()
    wish = RoomWish(asked.people + asked.browsers, asked.ready, forks=not asked.one_by_one)
    load = Path("/proc/loadavg").read_text().split()[0]
    with BoardServer(port=0, room=wish) as server:
        report = asyncio.run(whole(server, asked.people, asked.minutes, asked.browsers))
        print(report.text())
        print(f"load of the computer before: {load}, after: {Path('/proc/loadavg').read_text()}")


if __name__ == "__main__":
    main()
