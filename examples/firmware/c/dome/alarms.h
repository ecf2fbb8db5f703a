/* Alarms of the dome that are not delivered yet: one under way at a time. An alarm is safe to repeat. */
#ifndef ALARMS_H
#define ALARMS_H

#include <stdbool.h>
#include <stdint.h>

#include "bellwire.h"

#define ALARMS 3

struct alarms {
    bool waits[ALARMS]; /* by the words of reason in dome-alarm */
    bool is_under_way, has_again;
    uint8_t under_way;
    uint16_t ticket;
    uint32_t again_at;
};

void alarms_raise(struct alarms *alarms, uint8_t reason);
/* What became of an errand: until the alarm is delivered it waits again. */
void alarms_settle(struct alarms *alarms, const bellwire_event *outcome, uint32_t now);
/* Sends the next one. */
void alarms_send(struct alarms *alarms, bellwire_port *port, uint32_t now);

#endif
