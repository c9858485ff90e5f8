class Pin:
    def __init__(self, number):
        self.number = number


class WDT:
    def __init__(self, timeout):
        self.timeout = timeout

    def feed(self):
        pass
