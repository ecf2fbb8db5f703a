/* The tick source: TIMER0, the only one of the three with 32 bits, at 1 MHz. */
#include "board.h"

#define START REGISTER(0x40008000)
#define CAPTURE_1 REGISTER(0x40008044)
#define COMPARED_0 REGISTER(0x40008140)
#define INTENSET REGISTER(0x40008304)
#define BITMODE REGISTER(0x40008508)
#define PRESCALER REGISTER(0x40008510)
#define CC_0 REGISTER(0x40008540)
#define CC_1 REGISTER(0x40008544)

#define TICK 1000u

/* The last tick, µs. Written by the interrupt alone. */
static volatile uint32_t last;

void clock_start(void)
{
    BITMODE = 3;
    PRESCALER = 4;
    CC_0 = TICK;
    INTENSET = 1u << 16;
    board_enable(8);
    START = 1;
}

uint32_t board_now(void)
{
    return last;
}

/* A tick has passed, or several: a late interrupt loses no time, for time that stands still makes old news look fresh. */
void clock_handle_interrupt(void)
{
    COMPARED_0 = 0;
    for (;;) {
        uint32_t tick = last;
        CAPTURE_1 = 1;
        if (CC_1 - tick < TICK)
            return;
        tick += TICK;
        last = tick;
        /* The counter is looked at once more after this, so that no comparison is missed. */
        CC_0 = tick + TICK;
    }
}
