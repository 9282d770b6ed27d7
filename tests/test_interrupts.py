"""Ctrl-C held back while processes begin."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import multiprocessing, os, signal, sys, time
from skyview.interrupts import interrupts_held

def tell(pipe):
    pipe.send(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))

if __name__ == "__main__":
    context = multiprocessing.get_context("spawn")
    for _ in range(2):
        ours, theirs = context.Pipe()
        with interrupts_held():
            child = context.Process(target=tell, args=(theirs,))
            child.start()
            held = signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())
        after = signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())
        print(held, ours.recv(), after)
        child.join()
"""


def test_processes_begun_in_it_never_get_it(tmp_path):
    """The first process too, with which the tracker of named objects begins."""
    program = tmp_path / "begin.py"
    program.write_text(CODE)
    told = subprocess.run([sys.executable, program], capture_output=True, text=True, check=True)
    assert told.stdout.splitlines() == ["True True False"] * 2, told.stderr


WAIT = """
import os, signal
from skyview.interrupts import interrupts_held

got = []
signal.signal(signal.SIGINT, lambda *_: got.append("interrupt"))
with interrupts_held():
    os.kill(os.getpid(), signal.SIGINT)
    print(got)
print(got)
"""


def test_an_interrupt_waits_for_the_end_of_the_block():
    """In a process of one thread: any other would take it."""
    told = subprocess.run([sys.executable, "-c", WAIT], capture_output=True, text=True, check=True)
    assert told.stdout.splitlines() == ["[]", "['interrupt']"], told.stderr
