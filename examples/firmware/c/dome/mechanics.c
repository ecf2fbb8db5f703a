#include "mechanics.h"

/* The limit switches: the cable allows one turn less 10°. */
#define LOW 500000
#define HIGH 35500000
/* Way of the shutter from end to end, ms. */
#define WAY 10000

void mechanics_make(struct mechanics *mechanics, uint32_t now)
{
    mechanics->fine = 18000000;
    mechanics->shutter = 0;
    mechanics->drive.rate = 0;
    mechanics->drive.shutter = OBSERVATORY_SHUTTER_MOVE_STOP;
    mechanics->at = now;
}

static int32_t within(int32_t value, int32_t least, int32_t most)
{
    return value < least ? least : value > most ? most : value;
}

void mechanics_sense(struct mechanics *mechanics, uint32_t now, struct sensors *sensors)
{
    /* What is left over counts the next time; no rate passes an end in longer than this. */
    uint32_t millis = (now - mechanics->at) / 1000;
    int32_t span = millis > 60000 ? 60000 : (int32_t)millis;

    mechanics->at += millis * 1000;
    mechanics->fine = within(mechanics->fine + span * mechanics->drive.rate, LOW, HIGH);
    if (mechanics->drive.shutter == OBSERVATORY_SHUTTER_MOVE_OPEN)
        mechanics->shutter = within(mechanics->shutter + span, 0, WAY);
    else if (mechanics->drive.shutter == OBSERVATORY_SHUTTER_MOVE_CLOSE)
        mechanics->shutter = within(mechanics->shutter - span, 0, WAY);
    sensors->azimuth = (uint16_t)(mechanics->fine / 1000);
    sensors->low_limit = mechanics->fine == LOW;
    sensors->high_limit = mechanics->fine == HIGH;
    sensors->shutter = (uint8_t)(mechanics->shutter / (WAY / 100));
}
