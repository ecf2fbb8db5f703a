/* The dome's motor and shutter where there is none: a motor without inertia, two limit switches, a shutter that takes ten seconds. */
#ifndef MECHANICS_H
#define MECHANICS_H

#include "dome.h"

struct mechanics {
    int32_t fine;     /* where the dome points, 0.01° / 1000: what a rate of 0.01 °/s turns in a millisecond */
    int32_t shutter;  /* how far the shutter is open, ms of its way */
    struct drive drive;
    uint32_t at;
};

/* At rest at 180°, the shutter closed. */
void mechanics_make(struct mechanics *mechanics, uint32_t now);
/* Lets time pass up to `now`, in whole ms, the outputs as they were set; gives what the sensors show of it. */
void mechanics_sense(struct mechanics *mechanics, uint32_t now, struct sensors *sensors);

#endif
