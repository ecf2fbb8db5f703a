/* The messages of observatory 2, fingerprint 53502311.
 *
 * A backyard observatory: the desk steers the dome and the focuser over wires, and hears the
 * mast and the porch by radio.
 *
 * Written by `bellwire generate` from the agreement: change that, not this file. */
#ifndef OBSERVATORY_H
#define OBSERVATORY_H

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Fingerprint of the agreement, for the OPEN. */
#define OBSERVATORY_FINGERPRINT UINT32_C(0x53502311)

/* Most octets of any message. */
#define OBSERVATORY_MOST_OCTETS 203

/* What is wrong with a message. */
enum observatory_fault {
    OBSERVATORY_GOOD,
    /* The octets end inside the field. */
    OBSERVATORY_CUT,
    /* The octets, or the value, are nothing that the field's type has. */
    OBSERVATORY_MALFORMED,
    /* The value lies outside of the field's range. */
    OBSERVATORY_OUT_OF_RANGE,
    /* Text or octets are longer than agreed. */
    OBSERVATORY_TOO_LONG,
    /* There is no message with this number, or no number. */
    OBSERVATORY_NO_SUCH_MESSAGE,
    /* Octets are left over behind the last field. */
    OBSERVATORY_LEFT_OVER,
    /* The message does not fit the octets that were lent for it. */
    OBSERVATORY_NO_ROOM
};

/* How it went: the fault, the field that has it as it is called in the agreement ("" if it is about the
 * whole), and how many octets were written or read if all is good. */
struct observatory_outcome {
    enum observatory_fault fault;
    const char *field;
    size_t octets;
};

/* UTF-8, without a zero behind it. A message that was decoded lends it from the payload. */
struct observatory_text {
    const char *octets;
    size_t count;
};

/* Octets. A message that was decoded lends them from the payload. */
struct observatory_octets {
    const uint8_t *octets;
    size_t count;
};

/* Numbers of the messages. */
enum {
    OBSERVATORY_DOME_RATE = 0,
    OBSERVATORY_DOME_GOTO = 1,
    OBSERVATORY_SHUTTER = 2,
    OBSERVATORY_DOME_STATE = 3,
    OBSERVATORY_DOME_ALARM = 4,
    OBSERVATORY_RE_ARM = 5,
    OBSERVATORY_FOCUSER_GOTO = 6,
    OBSERVATORY_FOCUSER_STATE = 7,
    OBSERVATORY_WEATHER = 8,
    OBSERVATORY_LAMP = 9,
    OBSERVATORY_LOG_LINE = 10,
    OBSERVATORY_FOCUSER_RATE = 11,
    OBSERVATORY_DEW_HEATER = 12,
    OBSERVATORY_MAST_STATE = 13,
    OBSERVATORY_SKY_PROFILE = 14,
    OBSERVATORY_SITE = 15,
    OBSERVATORY_DOOR = 16
};

/* Turn at this rate. Message 0, set-point, desk to dome, at most 3 octets. Fresh for 500 ms,
 * then brake. */
struct observatory_dome_rate {
    /* Positive is clockwise, seen from above. -20.00 to 20.00 °/s; 1 is 0.01 °/s. */
    int16_t rate;
};

/* Turn to this azimuth. Message 1, errand, desk to dome, at most 4 octets. It may move
 * something. */
struct observatory_dome_goto {
    /* From north through east. 0.00 to 359.99 °; 1 is 0.01 °. */
    uint16_t azimuth;
};

/* The words of move in shutter. */
enum {
    OBSERVATORY_SHUTTER_MOVE_OPEN = 0,
    OBSERVATORY_SHUTTER_MOVE_CLOSE = 1,
    OBSERVATORY_SHUTTER_MOVE_STOP = 2
};

/* Move the shutter. Message 2, errand, desk to dome, at most 2 octets. It may move
 * something. */
struct observatory_shutter {
    /* open, close, stop. */
    uint8_t move;
};

/* The words of motion in dome-state. */
enum {
    OBSERVATORY_DOME_STATE_MOTION_HELD = 0,
    OBSERVATORY_DOME_STATE_MOTION_RUNNING = 1,
    OBSERVATORY_DOME_STATE_MOTION_STALE = 2,
    OBSERVATORY_DOME_STATE_MOTION_RE_ARM = 3
};

/* The state of the dome. Message 3, report, dome to desk, at most 9 octets. */
struct observatory_dome_state {
    /* 0.00 to 359.99 °; 1 is 0.01 °. */
    uint16_t azimuth;
    /* -327.68 to 327.67 °/s; 1 is 0.01 °/s. */
    int16_t rate;
    /* How far it is open. 0 to 100 %. */
    uint8_t shutter;
    /* What the dead-man of the rotation does. held, running, stale, re-arm. */
    uint8_t motion;
};

/* The words of reason in dome-alarm. */
enum {
    OBSERVATORY_DOME_ALARM_REASON_NO_NEWS = 0,
    OBSERVATORY_DOME_ALARM_REASON_RAIN = 1,
    OBSERVATORY_DOME_ALARM_REASON_LIMIT = 2
};

/* Something is wrong at the dome. Message 4, errand, dome to desk, at most 2 octets. */
struct observatory_dome_alarm {
    /* no-news, rain, limit. */
    uint8_t reason;
};

/* An operator's act after a stop. Send the stop value first. Message 5, errand, desk to
 * dome, at most 1 octet. It may move something. */

/* Go to this position. Message 6, errand, desk to focuser, at most 6 octets. It may move
 * something. */
struct observatory_focuser_goto {
    /* From the inner stop. 0 to 4294967295 µm. */
    uint32_t position;
};

/* The state of the focuser. Message 7, report, focuser to desk, at most 9 octets. */
struct observatory_focuser_state {
    /* 0 to 4294967295 µm. */
    uint32_t position;
    /* Of the tube. -327.68 to 327.67 °C; 1 is 0.01 °C. */
    int16_t temperature;
};

/* The weather in the field. Message 8, report, mast to desk, at most 13 octets. */
struct observatory_weather {
    /* 0.0 to 6553.5 m/s; 1 is 0.1 m/s. */
    uint16_t wind;
    /* true or false. */
    bool rain;
    /* Temperature of the sky; far below that of the air where it is clear. -327.68 to 327.67
     * °C; 1 is 0.01 °C. */
    int16_t sky;
    /* 0 to 4294967295 lx. */
    uint32_t light;
};

/* Dim the lamp. Message 9, errand, desk to porch, at most 2 octets. */
struct observatory_lamp {
    /* 0 to 100 %. */
    uint8_t level;
};

/* A line for people, from any board on a wire. Message 10, notice, desk and dome or focuser,
 * both ways, at most 203 octets. */
struct observatory_log_line {
    /* text up to 200 octets. */
    struct observatory_text text;
};

/* Move the focuser by hand. Message 11, set-point, desk to focuser, at most 3 octets. Fresh
 * for 300 ms, then hold. */
struct observatory_focuser_rate {
    /* Positive is outward. -2000 to 2000 µm/s. */
    int16_t rate;
};

/* Power of the dew heater. Heaters can burn: fuse and limit them. Message 12, set-point,
 * desk to focuser, at most 2 octets. Fresh for 30000 ms, then off. */
struct observatory_dew_heater {
    /* 0 to 80 %. */
    uint8_t power;
};

/* The flags of troubles in mast-state. */
#define OBSERVATORY_MAST_STATE_TROUBLES_WIND_SENSOR (UINT8_C(1) << 0)
#define OBSERVATORY_MAST_STATE_TROUBLES_RAIN_SENSOR (UINT8_C(1) << 1)
#define OBSERVATORY_MAST_STATE_TROUBLES_SKY_SENSOR (UINT8_C(1) << 2)
#define OBSERVATORY_MAST_STATE_TROUBLES_LIGHT_SENSOR (UINT8_C(1) << 3)
#define OBSERVATORY_MAST_STATE_TROUBLES_BATTERY_LOW (UINT8_C(1) << 4)

/* How the mast itself is. Message 13, report, mast to desk, at most 10 octets. */
struct observatory_mast_state {
    /* 2.00 to 7.00 V in steps of 0.02; 1 is 0.02 V, 0 stands for 2.00 V. */
    uint8_t battery;
    /* Since its last start. 0 to 4294967295 s. */
    uint32_t awake;
    /* flags: wind-sensor, rain-sensor, sky-sensor, light-sensor, battery-low. */
    uint8_t troubles;
    /* Strength of what it last heard, against 1 mW; nothing if it has heard nothing. -128 to
     * 0 dB; may be missing. */
    bool has_signal;
    int8_t signal;
};

/* Sky temperature in four directions: north, east, south, west. Message 14, report, mast to
 * desk, at most 17 octets. */
struct observatory_sky_profile {
    /* 4 values joined by commas, each -327.68 to 327.67 °C; 1 is 0.01 °C. */
    int16_t sky[4];
    /* -60 to 60 °C. */
    float air;
};

/* Where the observatory stands and what time it is. Message 15, errand, desk to dome or
 * focuser, at most 27 octets. */
struct observatory_site {
    /* -90 to 90 °. */
    double latitude;
    /* -180 to 180 °. */
    double longitude;
    /* Since 1970-01-01 UTC. -9223372036854775808 to 9223372036854775807 ms. */
    int64_t time;
};

/* The door of the porch. Message 16, report, porch to desk, at most 23 octets. */
struct observatory_door {
    /* true or false. */
    bool open;
    /* Openings since it was built in. 0 to 18446744073709551615. */
    uint64_t times;
    /* Number of the badge that was last shown. up to 10 octets in hex. */
    struct observatory_octets badge;
};

/* A message: its number, and the member of its name. */
struct observatory_message {
    uint16_t number;
    union {
        struct observatory_dome_rate dome_rate;
        struct observatory_dome_goto dome_goto;
        struct observatory_shutter shutter;
        struct observatory_dome_state dome_state;
        struct observatory_dome_alarm dome_alarm;
        struct observatory_focuser_goto focuser_goto;
        struct observatory_focuser_state focuser_state;
        struct observatory_weather weather;
        struct observatory_lamp lamp;
        struct observatory_log_line log_line;
        struct observatory_focuser_rate focuser_rate;
        struct observatory_dew_heater dew_heater;
        struct observatory_mast_state mast_state;
        struct observatory_sky_profile sky_profile;
        struct observatory_site site;
        struct observatory_door door;
    } as;
};

/* Writes the message to the front of `room`, which has `count` octets. */
struct observatory_outcome observatory_encode(const struct observatory_message *message, uint8_t *room, size_t count);

/* Reads a whole message. Text and octets stay where they are: keep the payload as long as the message. */
struct observatory_outcome observatory_decode(struct observatory_message *message, const uint8_t *octets, size_t count);

#ifdef __cplusplus
}
#endif

#endif
