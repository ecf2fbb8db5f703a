/* The end. Best effort: a processor that hangs does not come here. The chip's independent watchdog resets it, and pull resistors hold the drivers
 * off from the reset until the program runs again. */
#include "bench.h"
#include "board.h"

void board_stop(const char *why)
{
    board_set_outputs(0);
    bench_line(why);
    bench_value(" outputs=", (int32_t)board_outputs());
    bench_say();
    bench_exit(101);
    /* Nothing may follow. On a board of your own, reset here instead if a restart is safer than a rest. */
    for (;;)
        ;
}

/* What the library calls if it panics. */
void bellwire_panicked(void)
{
    board_stop("panic");
}
