// As much of the Arduino core as the example uses, on a clock of its own that `delay` moves.
#pragma once
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/time.h>
#include <time.h>

inline unsigned long boardMs = 0;
// Epoch ms of the board's start, and when its clock is set, ms after it.
inline long long startMs = 0;
inline unsigned long clockSetMs = 0;

inline unsigned long millis() { return boardMs; }
inline void delay(unsigned long ms) { boardMs += ms; }
inline void configTime(long, int, const char *) {}
inline int boardTime(timeval *now, void *) {
  long long ms = boardMs + (boardMs < clockSetMs ? 0 : startMs);
  now->tv_sec = ms / 1000;
  now->tv_usec = (ms % 1000) * 1000;
  return 0;
}
#define gettimeofday boardTime
