# Runs on the board, after small.py and dead_man.py: sends each errand back, turns nothing, and keeps an eye on the memory.


def main(mine):
    micropython.kbd_intr(-1)  # noise can make an octet 0x03, whatever the sender avoids
    port = Port(uart, 11520, mine)
    guard = DeadMan(500, 0, abs)
    port.guards.append(guard)
    pending = []
    arrived = streamed = 0
    low = gc.mem_free()
    while True:
        event = port.service(running_time())
        if event is None:
            if pending and port.send(b"\x65" + pending[0]):
                pending.pop(0)
            continue
        what, value = event
        if what == SET_POINT:
            guard.news(value[1], port.arrived)
            streamed += 1
        elif what == ERRAND and value[0] == 103:
            break
        elif what == ERRAND:
            arrived += 1
            if len(pending) < 4:
                pending.append(value[1:])
            gc.collect()
            low = min(low, gc.mem_free())
    for _ in range(9):
        port.notice(b"\x68" + arrived.to_bytes(2, "little") + streamed.to_bytes(2, "little") + low.to_bytes(2, "little"))
    print(arrived, low)


import gc
import micropython
from microbit import uart, running_time
