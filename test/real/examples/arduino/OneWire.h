#pragma once
class OneWire {
 public:
  explicit OneWire(int) {}
};
