class OneWire:
    def __init__(self, pin):
        self.pin = pin
