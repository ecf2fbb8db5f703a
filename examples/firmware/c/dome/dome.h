/* The dome: rotation behind a dead-man, shutter, rain stop. No clock, no register: time and inputs are handed in, and it says what the outputs
 * shall do. The motor gets its rate through the dead-man and in no other way; rain and limit switches are handled here, link or not.
 *
 * Caution: this is a functional stop and no emergency stop; see README.md before it drives anything. */
#ifndef DOME_H
#define DOME_H

#include <stdbool.h>
#include <stdint.h>

#include "alarms.h"
#include "bellwire.h"
#include "observatory.h"

/* What the dome's inputs show. */
struct sensors {
    uint16_t azimuth; /* where it points, 0.01° from north through east */
    bool low_limit, high_limit;
    uint8_t shutter;  /* how far it is open, % */
    bool rain;
    uint32_t lost;    /* octets that the line has lost since the start */
};

/* What the dome's outputs shall do. */
struct drive {
    int16_t rate;     /* 0.01 °/s; positive is clockwise seen from above; 0 is the brake */
    uint8_t shutter;  /* a word of move in shutter */
};

struct dome {
    bellwire_port port;
    bellwire_dead_man rate;
    bellwire_status trouble; /* the first status that a sound program never sees */
    struct sensors sensors;
    struct alarms alarms;
    bool has_newest, has_target, has_reported;
    uint32_t newest;      /* when the newest rate arrived, µs */
    uint16_t target;      /* where an errand sends the dome, 0.01° */
    uint8_t shutter;
    uint8_t motion;       /* a bellwire_motion */
    uint8_t reason;       /* a bellwire_reason */
    uint8_t reported;
    uint32_t reported_at;
    uint32_t lost_told;
    const char *refused;  /* what the operator asked for and does not get */
};

/* The board at its start: held, whatever was before. `own` is a bellwire_own. */
bool dome_make(struct dome *dome, const bellwire_line *line, uint8_t own, uint32_t number, uint32_t now);
/* One turn of the control loop, every few milliseconds: serves the line, then says what the outputs shall do. Do it at once. False: stop all;
 * `trouble` says why. */
bool dome_turn(struct dome *dome, uint32_t now, const struct sensors *sensors, struct drive *drive);

#endif
