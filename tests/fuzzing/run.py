"""Feed mutants of valid files to every reader, each in a process of its own.

    python -m tests.fuzzing.run --seconds 120               # all readers, equal shares of time
    python -m tests.fuzzing.run --inputs 100000 csv svg     # so many inputs to each of two

Only a `ShapecutError` may come out, within 10 s of processor time and 2.5 GB.  What breaks this is
kept in --found, one file for each fault; the run then ends with 1.  The same seed feeds the same
inputs.
"""

import argparse
import mmap
import os
import resource
import struct
import sys
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import ForkProcess
from pathlib import Path
from random import Random

from shapecut.errors import ShapecutError
from tests.fuzzing.mutations import LARGEST, mutated
from tests.fuzzing.readers import READERS

LONGEST_S = 10.0
"""Processor time in which a reader has read or refused a file."""

HUNG_S = 60.0
"""A process that is at one file for so long, however busy the machine is, is ended."""

MOST_MEMORY = 2_500_000_000
"""Bytes that a reader may take beside what the libraries took before."""

LARGEST_POOL = 400
"""Files that mutants are made from: the valid ones, and mutants that were answered in a new way."""


@dataclass
class Tally:
    """What came of one reader's inputs."""

    inputs: int = 0
    read: int = 0
    slowest_s: float = 0.0
    answers: set[str] = field(default_factory=set)
    faults: dict[str, bytes] = field(default_factory=dict)

    def add(self, other: "Tally") -> None:
        """Count another one in."""
        self.inputs += other.inputs
        self.read += other.read
        self.slowest_s = max(self.slowest_s, other.slowest_s)
        self.answers |= other.answers
        self.faults = other.faults | self.faults


class Desk:
    """The input that a process is at, kept where it outlives that process."""

    def __init__(self) -> None:
        self._memory = mmap.mmap(-1, 16 + LARGEST)

    def lay(self, number: int, data: bytes) -> None:
        """Note an input before it is read."""
        self._memory[:16] = struct.pack("<qq", number, len(data))
        self._memory[16 : 16 + len(data)] = data

    @property
    def number(self) -> int:
        """Which input is being read."""
        return int(struct.unpack("<q", self._memory[:8])[0])

    @property
    def data(self) -> bytes:
        """The input itself."""
        (size,) = struct.unpack("<q", self._memory[8:16])
        return self._memory[16 : 16 + size]


def feed(name: str, desk: Desk, *, seed: str, until: float, inputs: int) -> Tally:
    """Feed one reader until a time of the monotonic clock, or so many inputs."""
    reader, random, tally = READERS[name], Random(seed), Tally()
    pool = list(reader.seeds())
    valid = len(pool)
    while tally.inputs < inputs and time.monotonic() < until:
        data = mutated(random.choice(pool), random, pool)
        desk.lay(tally.inputs, data)
        began = time.process_time()
        try:
            reader.read(data)
            answer = "read"
            tally.read += 1
        except ShapecutError as error:
            answer = _way_to(error)
        except Exception as error:
            answer = _way_to(error)
            tally.faults.setdefault(f"{type(error).__name__} at {answer}", data)
        took = time.process_time() - began
        tally.inputs += 1
        tally.slowest_s = max(tally.slowest_s, took)
        if took > LONGEST_S:
            tally.faults.setdefault("took too long", data)
        if answer not in tally.answers or (answer == "read" and random.random() < 0.01):
            tally.answers.add(answer)
            pool.append(data)
            if len(pool) > LARGEST_POOL:
                pool.pop(random.randrange(valid, len(pool)))
    return tally


def _way_to(error: Exception) -> str:
    """Our last lines on the way to an error: two errors with the same ones are one answer."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/shapecut/" in frame.filename] or frames
    return " > ".join(f"{Path(frame.filename).name}:{frame.lineno}" for frame in ours[-3:])


def watched(name: str, *, seed: str, seconds: float, inputs: int) -> Tally:
    """Feed a reader in a process of its own, begun anew where it hangs or dies."""
    context = get_context("fork")
    total, until = Tally(), time.monotonic() + seconds
    while total.inputs < inputs and time.monotonic() < until:
        desk = Desk()
        ours, theirs = context.Pipe(duplex=False)
        limits = (f"{seed} {total.inputs}", until, inputs - total.inputs)
        process = context.Process(target=_child, args=(name, desk, theirs, *limits))
        process.start()
        theirs.close()
        total.add(_awaited(process, ours, desk))
        process.join()
    return total


def _child(name: str, desk: Desk, pipe: Connection, seed: str, until: float, inputs: int) -> None:
    taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (taken + MOST_MEMORY, taken + MOST_MEMORY))
    pipe.send(feed(name, desk, seed=seed, until=until, inputs=inputs))


def _awaited(process: ForkProcess, pipe: Connection, desk: Desk) -> Tally:
    """What a process tells in the end, or what it was at when it hung or died."""
    at, since = -1, time.monotonic()
    while not pipe.poll(0.5):
        if desk.number != at:
            at, since = desk.number, time.monotonic()
        if time.monotonic() - since > HUNG_S:
            process.kill()
            return Tally(desk.number + 1, faults={"hung": desk.data})
    try:
        told: Tally = pipe.recv()
    except EOFError:
        process.join()
        return Tally(desk.number + 1, faults={f"died of {process.exitcode}": desk.data})
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    """Fuzz; 1 if anything broke."""
    parser = argparse.ArgumentParser(prog="fuzzing", description="Fuzz every reader.")
    parser.add_argument("readers", nargs="*", help=f"of {', '.join(READERS)}; all if none is named")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="of all together")
    parser.add_argument("--inputs", type=int, default=sys.maxsize, help="to each reader")
    parser.add_argument("--seed", default="0")
    parser.add_argument("--found", type=Path, default=Path("fuzzing-found"))
    told = parser.parse_args(arguments)
    names = told.readers or list(READERS)
    broken = False
    for name in names:
        share = told.seconds / len(names)
        tally = watched(name, seed=told.seed, seconds=share, inputs=told.inputs)
        print(
            f"{name:8} {tally.inputs:9,} inputs, {tally.read / max(1, tally.inputs):4.0%} read, "
            f"{len(tally.answers):4} answers, slowest {tally.slowest_s:.2f} s, "
            f"{len(tally.faults)} faults",
            flush=True,
        )
        for number, (fault, data) in enumerate(tally.faults.items(), start=1):
            broken = True
            told.found.mkdir(parents=True, exist_ok=True)
            kept = told.found / f"{name}-{told.seed}-{number}"
            kept.write_bytes(data)
            print(f"  {fault}: {kept}", flush=True)
    return int(broken)


if __name__ == "__main__":
    os.nice(5)
    sys.exit(main())
