#include "dome.h"

#include <string.h>

#include "text.h"

/* How long a rate drives the motor after its arrival, µs. */
#define FRESH 500000u
/* Pause between two reports, µs. */
#define PAUSE 1000000u
/* How fast an errand turns the dome, 0.01 °/s. */
#define FASTEST 300
#define IDENTITY UINT64_C(0x0B5E00000000D03E)

/* Takes note of a status that a sound program never sees. */
static bool sound(struct dome *dome, bellwire_status status)
{
    if (dome->trouble == BELLWIRE_STATUS_OK)
        dome->trouble = status;
    return status == BELLWIRE_STATUS_OK;
}

bool dome_make(struct dome *dome, const bellwire_line *line, uint8_t own, uint32_t number, uint32_t now)
{
    bellwire_settings settings;

    memset(dome, 0, sizeof *dome);
    dome->shutter = OBSERVATORY_SHUTTER_MOVE_STOP;
    if (!sound(dome, bellwire_settings_uart(&settings, 115200, own, number)))
        return false;
    settings.identity = IDENTITY;
    settings.fingerprint = OBSERVATORY_FINGERPRINT;
    return sound(dome, bellwire_port_make(&dome->port, sizeof dome->port, line, &settings, now)) &&
           sound(dome, bellwire_dead_man_make(&dome->rate, sizeof dome->rate, 0, FRESH, BELLWIRE_STOP_BRAKE)) &&
           sound(dome, bellwire_port_open(&dome->port, now));
}

/* What is missing before the dome may move, short enough for one line. */
static const char *missing(bellwire_status status)
{
    switch (status) {
    case BELLWIRE_STATUS_MISMATCH: return "not re-armed: the agreements differ";
    case BELLWIRE_STATUS_NO_NEWS: return "not re-armed: no fresh rate";
    case BELLWIRE_STATUS_NOT_AT_STOP: return "not re-armed: let go first";
    default: return "not re-armed";
    }
}

static uint8_t motion(struct dome *dome)
{
    sound(dome, bellwire_dead_man_motion(&dome->rate, &dome->motion, &dome->reason));
    return dome->motion;
}

/* Does what the operator asks for, if it may be done now. */
static void run(struct dome *dome, const struct observatory_message *errand, uint32_t now)
{
    bellwire_status status;

    switch (errand->number) {
    case OBSERVATORY_RE_ARM:
        status = bellwire_dead_man_rearm(&dome->rate, now);
        if (status != BELLWIRE_STATUS_OK)
            dome->refused = missing(status);
        break;
    case OBSERVATORY_SHUTTER:
        if (errand->as.shutter.move == OBSERVATORY_SHUTTER_MOVE_OPEN && dome->sensors.rain)
            dome->refused = "shutter stays closed: it rains";
        else
            dome->shutter = errand->as.shutter.move;
        break;
    case OBSERVATORY_DOME_GOTO:
        dome->has_target = motion(dome) == BELLWIRE_MOTION_RUNNING;
        if (dome->has_target)
            dome->target = errand->as.dome_goto.azimuth;
        else
            dome->refused = "goto: only while running at rate 0";
        break;
    default:
        dome->refused = "not for the dome";
        break;
    }
}

/* A message counts only in the class that was agreed. */
static void read_message(struct dome *dome, const bellwire_event *event, uint32_t now)
{
    struct observatory_message message;
    bool is_rate = event->message_class == BELLWIRE_CLASS_SET_POINT;

    if (observatory_decode(&message, event->octets, event->length).fault != OBSERVATORY_GOOD ||
        is_rate != (message.number == OBSERVATORY_DOME_RATE)) {
        dome->refused = "not in the agreement";
    } else if (is_rate) {
        sound(dome, bellwire_dead_man_set_point(&dome->rate, message.as.dome_rate.rate, event->arrived));
        dome->newest = event->arrived;
        dome->has_newest = true;
    } else if (event->message_class == BELLWIRE_CLASS_ERRAND) {
        run(dome, &message, now);
    }
}

static void handle(struct dome *dome, const bellwire_event *event, uint32_t now)
{
    sound(dome, bellwire_dead_man_event(&dome->rate, event));
    switch (event->happening) {
    case BELLWIRE_HAPPENING_OPENED:
        dome->has_reported = false;
        /* Whoever opens has not heard of what was lost before. */
        dome->lost_told = 0;
        break;
    case BELLWIRE_HAPPENING_ENDED:
        dome->has_target = false;
        break;
    case BELLWIRE_HAPPENING_MESSAGE:
        read_message(dome, event, now);
        break;
    case BELLWIRE_HAPPENING_OUTCOME:
        alarms_settle(&dome->alarms, event, now);
        break;
    default:
        break;
    }
}

/* The rate that drives the motor, 0.01 °/s. A target is approached only while fresh rates say stop: any other rate, and a trip, ends it. */
static int32_t wanted(struct dome *dome, uint32_t now)
{
    int32_t rate = 0, way;

    if (!sound(dome, bellwire_dead_man_output(&dome->rate, now, &rate)))
        return 0;
    if (rate != 0 || motion(dome) != BELLWIRE_MOTION_RUNNING)
        dome->has_target = false;
    if (!dome->has_target)
        return rate;
    way = (int32_t)dome->target - dome->sensors.azimuth;
    if (way == 0) {
        dome->has_target = false;
        dome->has_reported = false;
    }
    /* Slower over the last 0.6°, so that it comes to rest there. */
    way *= 5;
    return way > FASTEST ? FASTEST : way < -FASTEST ? -FASTEST : way;
}

/* What the outputs shall do now. */
static void decide(struct dome *dome, uint32_t now, struct drive *drive)
{
    const struct sensors *sensors = &dome->sensors;
    bool is_open = sensors->shutter > 0 || dome->shutter == OBSERVATORY_SHUTTER_MOVE_OPEN;
    uint8_t reason = BELLWIRE_REASON_NONE;
    int32_t rate;

    if (sensors->rain && is_open && dome->shutter != OBSERVATORY_SHUTTER_MOVE_CLOSE) {
        dome->shutter = OBSERVATORY_SHUTTER_MOVE_CLOSE;
        alarms_raise(&dome->alarms, OBSERVATORY_DOME_ALARM_REASON_RAIN);
    }
    rate = wanted(dome, now);
    if ((rate < 0 && sensors->low_limit) || (rate > 0 && sensors->high_limit)) {
        /* The operator must let go first: a way back may be long. */
        sound(dome, bellwire_dead_man_hold(&dome->rate));
        dome->has_target = false;
        alarms_raise(&dome->alarms, OBSERVATORY_DOME_ALARM_REASON_LIMIT);
        rate = 0;
    }
    sound(dome, bellwire_dead_man_check(&dome->rate, now, &reason));
    if (reason == BELLWIRE_REASON_NO_NEWS)
        alarms_raise(&dome->alarms, OBSERVATORY_DOME_ALARM_REASON_NO_NEWS);
    if ((dome->shutter == OBSERVATORY_SHUTTER_MOVE_OPEN && sensors->shutter == 100) ||
        (dome->shutter == OBSERVATORY_SHUTTER_MOVE_CLOSE && sensors->shutter == 0))
        dome->shutter = OBSERVATORY_SHUTTER_MOVE_STOP;
    drive->rate = (int16_t)rate;
    drive->shutter = dome->shutter;
}

static bool send(struct dome *dome, uint8_t message_class, const struct observatory_message *message, uint32_t now)
{
    uint8_t payload[48];
    struct observatory_outcome written = observatory_encode(message, payload, sizeof payload);

    return written.fault == OBSERVATORY_GOOD &&
           bellwire_port_send(&dome->port, now, message_class, payload, written.octets, NULL) == BELLWIRE_STATUS_OK;
}

/* A line for people, as a notice: it may get lost, so nothing hangs on it. */
static bool log_line(struct dome *dome, const struct text *text, uint32_t now)
{
    struct observatory_message message = {.number = OBSERVATORY_LOG_LINE};

    message.as.log_line.text.octets = text->octets;
    message.as.log_line.text.count = text->count;
    return send(dome, BELLWIRE_CLASS_NOTICE, &message, now);
}

static void report(struct dome *dome, int16_t rate, uint32_t now)
{
    struct observatory_message message = {.number = OBSERVATORY_DOME_STATE};

    message.as.dome_state.azimuth = dome->sensors.azimuth;
    message.as.dome_state.rate = rate;
    message.as.dome_state.shutter = dome->sensors.shutter;
    /* The words of motion stand in the order of bellwire_motion. */
    message.as.dome_state.motion = dome->motion;
    /* Where the queue is full the next report will tell more. */
    (void)send(dome, BELLWIRE_CLASS_REPORT, &message, now);
    dome->has_reported = true;
    dome->reported_at = now;
    dome->reported = dome->motion;
}

/* Tells the desk what it should know. */
static void tell(struct dome *dome, int16_t rate, uint32_t now)
{
    struct text text = {.count = 0};

    alarms_send(&dome->alarms, &dome->port, now);
    if (dome->sensors.lost != dome->lost_told) {
        text_word(&text, "overrun: octets lost so far: ");
        text_count(&text, dome->sensors.lost);
        if (log_line(dome, &text, now))
            dome->lost_told = dome->sensors.lost;
    }
    if (dome->refused != NULL) {
        text.count = 0;
        text_word(&text, dome->refused);
        (void)log_line(dome, &text, now);
        dome->refused = NULL;
    }
    if (!dome->has_reported || now - dome->reported_at >= PAUSE || dome->motion != dome->reported)
        report(dome, rate, now);
}

bool dome_turn(struct dome *dome, uint32_t now, const struct sensors *sensors, struct drive *drive)
{
    bellwire_event event;
    uint8_t state = BELLWIRE_STATE_DOWN;

    dome->sensors = *sensors;
    while (sound(dome, bellwire_port_service(&dome->port, now, &event)) && event.happening != BELLWIRE_HAPPENING_NONE)
        handle(dome, &event, now);
    decide(dome, now, drive);
    motion(dome);
    sound(dome, bellwire_port_state(&dome->port, &state));
    if (state != BELLWIRE_STATE_DOWN)
        tell(dome, drive->rate, now);
    return dome->trouble == BELLWIRE_STATUS_OK;
}
