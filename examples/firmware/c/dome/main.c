/* The dome board: turns at a set-point while news of it is fresh, and closes its shutter when it rains. */
#include "bench.h"
#include "board.h"
#include "dome.h"
#include "mechanics.h"

static struct dome dome;
static struct mechanics mechanics;

/* What the outputs are for what the dome shall do. */
static uint32_t outputs(const struct drive *drive)
{
    uint32_t on = 0;

    if (drive->rate != 0)
        on |= OUTPUT_MOTOR;
    if (drive->rate > 0)
        on |= OUTPUT_CLOCKWISE;
    if (drive->shutter == OBSERVATORY_SHUTTER_MOVE_OPEN)
        on |= OUTPUT_OPEN;
    if (drive->shutter == OBSERVATORY_SHUTTER_MOVE_CLOSE)
        on |= OUTPUT_CLOSE;
    return on;
}

/* Tells what has changed: the README of the firmware has the lines. */
static void told(uint32_t now, const struct drive *drive)
{
    static const char *const motions[] = {"held ", "running ", "stale ", "re-arm "};
    static const char *const reasons[] = {
        "", "the board has just started", "the link ended", "the agreements differ", "no news within the limit",
        "an operator asked for the stop",
    };
    static struct drive before;
    static uint8_t motion = 0xFF;
    static bool has_before;
    static uint32_t turned, lost;

    if (motion != dome.motion) {
        bench_line("motion ");
        bench_word(motions[dome.motion]);
        bench_word(reasons[dome.reason]);
        bench_say();
        motion = dome.motion;
    }
    if (!has_before || before.rate != drive->rate || before.shutter != drive->shutter) {
        bench_line("drive");
        bench_value(" rate=", drive->rate);
        bench_value(" outputs=", (int32_t)board_outputs());
        bench_value(" newest=", dome.has_newest ? (int32_t)dome.newest : 0);
        bench_value(" before=", (int32_t)turned);
        bench_say();
        before = *drive;
        has_before = true;
    }
    if (lost != board_lost()) {
        lost = board_lost();
        bench_line("overrun");
        bench_value(" lost=", (int32_t)lost);
        bench_say();
    }
    turned = now;
}

int main(void)
{
    uint32_t number = board_random();

    (void)bench_start(&number);
    board_start();
    mechanics_make(&mechanics, board_now());
    if (!dome_make(&dome, &board_uart, BELLWIRE_OWN_RANDOM, number, board_now()))
        board_stop(bellwire_status_words(dome.trouble));
    for (;;) {
        struct sensors sensors = {.rain = bench_turn(board_now())};
        struct drive drive;
        uint32_t now = board_now();

        sensors.lost = board_lost();
        mechanics_sense(&mechanics, now, &sensors);
        if (!dome_turn(&dome, now, &sensors, &drive))
            board_stop(bellwire_status_words(dome.trouble));
        mechanics.drive = drive;
        board_set_outputs(outputs(&drive));
        told(now, &drive);
        /* Feed the watchdog here and nowhere else. */
        board_wait();
    }
}
