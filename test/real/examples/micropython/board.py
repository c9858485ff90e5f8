"""A board as MicroPython has it, as far as the example uses it, at ten times its pace: board.py MAIN. The thermometer
reads one number a line on standard input, and answers nothing while there is none; where that ends, so does the board,
without a word to the broker."""

import runpy
import sys
import time

PACE = 10

time.ticks_ms = lambda: int(time.monotonic() * 1000 * PACE)
time.ticks_diff = lambda late, early: late - early
time.sleep_ms = lambda ms: time.sleep(ms / 1000 / PACE)
runpy.run_path(sys.argv[1], run_name="__main__")
