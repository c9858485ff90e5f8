#pragma once
#include "Arduino.h"

enum { WL_DISCONNECTED, WL_CONNECTED, WIFI_STA };
class WiFiClient {};
struct {
  void mode(int) {}
  void begin(const char *, const char *) {}
  int status() { return boardMs < 500 ? WL_DISCONNECTED : WL_CONNECTED; }
} WiFi;
