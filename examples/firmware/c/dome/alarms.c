#include "alarms.h"

#include "observatory.h"

/* Pause before an alarm is raised again that may not have arrived, µs. */
#define PAUSE 1000000u

void alarms_raise(struct alarms *alarms, uint8_t reason)
{
    alarms->waits[reason] = true;
}

void alarms_settle(struct alarms *alarms, const bellwire_event *outcome, uint32_t now)
{
    if (!alarms->is_under_way || alarms->ticket != outcome->ticket)
        return;
    alarms->is_under_way = false;
    if (outcome->outcome != BELLWIRE_OUTCOME_DELIVERED) {
        alarms->waits[alarms->under_way] = true;
        alarms->has_again = true;
        alarms->again_at = now + PAUSE;
    }
}

void alarms_send(struct alarms *alarms, bellwire_port *port, uint32_t now)
{
    uint8_t payload[4];

    if (alarms->is_under_way || (alarms->has_again && (int32_t)(now - alarms->again_at) < 0))
        return;
    alarms->has_again = false;
    for (uint8_t reason = 0; reason < ALARMS; reason++) {
        struct observatory_message message = {.number = OBSERVATORY_DOME_ALARM, .as.dome_alarm.reason = reason};
        size_t length;
        if (!alarms->waits[reason])
            continue;
        length = observatory_encode(&message, payload, sizeof payload).octets;
        if (bellwire_port_send(port, now, BELLWIRE_CLASS_ERRAND, payload, length, &alarms->ticket) == BELLWIRE_STATUS_OK) {
            alarms->is_under_way = true;
            alarms->under_way = reason;
            alarms->waits[reason] = false;
        }
        return;
    }
}
