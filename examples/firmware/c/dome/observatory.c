/* The messages of observatory 2, fingerprint 53502311.
 *
 * A backyard observatory: the desk steers the dome and the focuser over wires, and hears the
 * mast and the porch by radio.
 *
 * Written by `bellwire generate` from the agreement: change that, not this file. */
#include "observatory.h"

/* Octets to be read. The first fault stays. */
struct in {
    const uint8_t *octets;
    size_t left;
    struct observatory_outcome outcome;
};

/* Octets being written. The first fault stays. */
struct out {
    uint8_t *octets;
    size_t left;
    struct observatory_outcome outcome;
};

static void fail(struct observatory_outcome *outcome, enum observatory_fault fault, const char *field)
{
    if (outcome->fault == OBSERVATORY_GOOD) {
        outcome->fault = fault;
        outcome->field = field;
    }
}

static uint8_t take_octet(struct in *in, const char *field)
{
    if (in->outcome.fault != OBSERVATORY_GOOD) {
        return 0;
    }
    if (in->left == 0) {
        fail(&in->outcome, OBSERVATORY_CUT, field);
        return 0;
    }
    in->left--;
    return *in->octets++;
}

/* Seven bits an octet, least significant first; more octets than needed are taken, more bits are not. */
static uint64_t take_number(struct in *in, const char *field, unsigned bits)
{
    uint64_t number = 0;
    unsigned shift;
    for (shift = 0; shift < bits; shift += 7) {
        uint8_t octet = take_octet(in, field);
        uint8_t part = octet & 0x7F;
        number |= (uint64_t)part << shift;
        if (octet < 0x80) {
            if (bits - shift < 7 && part >> (bits - shift) != 0) {
                break;
            }
            return number;
        }
    }
    fail(&in->outcome, OBSERVATORY_MALFORMED, field);
    return 0;
}

static void put_octet(struct out *out, uint8_t octet)
{
    if (out->left == 0) {
        fail(&out->outcome, OBSERVATORY_NO_ROOM, "");
        return;
    }
    out->left--;
    out->octets[out->outcome.octets++] = octet;
}

static void put_number(struct out *out, uint64_t number)
{
    while (number >= 0x80) {
        put_octet(out, (uint8_t)(number | 0x80));
        number >>= 7;
    }
    put_octet(out, (uint8_t)number);
}

/* Zigzag: 0, -1, 1, -2 are 0, 1, 2, 3. */
static int64_t take_signed(struct in *in, const char *field, unsigned bits)
{
    uint64_t number = take_number(in, field, bits);
    return (int64_t)(number >> 1) ^ -(int64_t)(number & 1);
}

static void put_signed(struct out *out, int64_t number)
{
    put_number(out, ((uint64_t)number << 1) ^ (number < 0 ? UINT64_MAX : 0));
}

static bool take_bool(struct in *in, const char *field)
{
    uint8_t octet = take_octet(in, field);
    if (octet > 1) {
        fail(&in->outcome, OBSERVATORY_MALFORMED, field);
    }
    return octet == 1;
}

static uint8_t take_word(struct in *in, const char *field, unsigned words)
{
    uint64_t place = take_number(in, field, 32);
    if (place >= words) {
        fail(&in->outcome, OBSERVATORY_MALFORMED, field);
        return 0;
    }
    return (uint8_t)place;
}

static uint64_t take_bits(struct in *in, const char *field, unsigned bits)
{
    uint64_t value = 0;
    unsigned shift;
    for (shift = 0; shift < bits; shift += 8) {
        value |= (uint64_t)take_octet(in, field) << shift;
    }
    return value;
}

static void put_bits(struct out *out, uint64_t value, unsigned bits)
{
    unsigned shift;
    for (shift = 0; shift < bits; shift += 8) {
        put_octet(out, (uint8_t)(value >> shift));
    }
}

static float take_f32(struct in *in, const char *field)
{
    uint32_t bits = (uint32_t)take_bits(in, field, 32);
    float value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static void put_f32(struct out *out, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    put_bits(out, bits, 32);
}

static double take_f64(struct in *in, const char *field)
{
    uint64_t bits = take_bits(in, field, 64);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static void put_f64(struct out *out, double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    put_bits(out, bits, 64);
}

/* A count and that many octets, which stay where they are. */
static const uint8_t *take_counted(struct in *in, const char *field, size_t *count)
{
    uint64_t most = take_number(in, field, 64);
    const uint8_t *octets = in->octets;
    if (most > in->left) {
        fail(&in->outcome, OBSERVATORY_CUT, field);
        most = 0;
    }
    *count = (size_t)most;
    in->octets += *count;
    in->left -= *count;
    return octets;
}

static void put_counted(struct out *out, const uint8_t *octets, size_t count)
{
    size_t i;
    put_number(out, count);
    for (i = 0; i < count; i++) {
        put_octet(out, octets[i]);
    }
}

static struct observatory_octets take_octets(struct in *in, const char *field)
{
    struct observatory_octets value;
    value.octets = take_counted(in, field, &value.count);
    return value;
}

static void put_octets(struct out *out, struct observatory_octets value)
{
    put_counted(out, value.octets, value.count);
}

/* UTF-8 as RFC 3629 has it: no overlong forms, no surrogates, nothing above U+10FFFF. */
static bool is_utf8(const uint8_t *octets, size_t count)
{
    size_t i = 0;
    while (i < count) {
        uint8_t first = octets[i++];
        uint8_t low = 0x80, high = 0xBF;
        unsigned more;
        if (first < 0x80) {
            continue;
        }
        if (first < 0xC2 || first > 0xF4) {
            return false;
        }
        more = first < 0xE0 ? 1 : first < 0xF0 ? 2 : 3;
        if (first == 0xE0) {
            low = 0xA0;
        } else if (first == 0xED) {
            high = 0x9F;
        } else if (first == 0xF0) {
            low = 0x90;
        } else if (first == 0xF4) {
            high = 0x8F;
        }
        for (; more > 0; more--) {
            if (i == count || octets[i] < low || octets[i] > high) {
                return false;
            }
            i++;
            low = 0x80;
            high = 0xBF;
        }
    }
    return true;
}

static struct observatory_text take_text(struct in *in, const char *field)
{
    struct observatory_text value;
    const uint8_t *octets = take_counted(in, field, &value.count);
    if (!is_utf8(octets, value.count)) {
        fail(&in->outcome, OBSERVATORY_MALFORMED, field);
    }
    value.octets = (const char *)octets;
    return value;
}

static void put_text(struct out *out, struct observatory_text value, const char *field)
{
    const uint8_t *octets = (const uint8_t *)value.octets;
    if (!is_utf8(octets, value.count)) {
        fail(&out->outcome, OBSERVATORY_MALFORMED, field);
        return;
    }
    put_counted(out, octets, value.count);
}

static void check_dome_rate(const struct observatory_dome_rate *body, struct observatory_outcome *outcome)
{
    if (body->rate < -2000 || body->rate > 2000) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "rate");
    }
}

static void encode_dome_rate(struct out *out, const struct observatory_dome_rate *body)
{
    put_signed(out, body->rate);
}

static void decode_dome_rate(struct in *in, struct observatory_dome_rate *body)
{
    body->rate = (int16_t)take_signed(in, "rate", 16);
}

static void check_dome_goto(const struct observatory_dome_goto *body, struct observatory_outcome *outcome)
{
    if (body->azimuth > 35999) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "azimuth");
    }
}

static void encode_dome_goto(struct out *out, const struct observatory_dome_goto *body)
{
    put_number(out, body->azimuth);
}

static void decode_dome_goto(struct in *in, struct observatory_dome_goto *body)
{
    body->azimuth = (uint16_t)take_number(in, "azimuth", 16);
}

static void check_shutter(const struct observatory_shutter *body, struct observatory_outcome *outcome)
{
    if (body->move >= 3) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "move");
    }
}

static void encode_shutter(struct out *out, const struct observatory_shutter *body)
{
    put_number(out, body->move);
}

static void decode_shutter(struct in *in, struct observatory_shutter *body)
{
    body->move = take_word(in, "move", 3);
}

static void check_dome_state(const struct observatory_dome_state *body, struct observatory_outcome *outcome)
{
    if (body->azimuth > 35999) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "azimuth");
    }
    if (body->shutter > 100) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "shutter");
    }
    if (body->motion >= 4) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "motion");
    }
}

static void encode_dome_state(struct out *out, const struct observatory_dome_state *body)
{
    put_number(out, body->azimuth);
    put_signed(out, body->rate);
    put_octet(out, body->shutter);
    put_number(out, body->motion);
}

static void decode_dome_state(struct in *in, struct observatory_dome_state *body)
{
    body->azimuth = (uint16_t)take_number(in, "azimuth", 16);
    body->rate = (int16_t)take_signed(in, "rate", 16);
    body->shutter = take_octet(in, "shutter");
    body->motion = take_word(in, "motion", 4);
}

static void check_dome_alarm(const struct observatory_dome_alarm *body, struct observatory_outcome *outcome)
{
    if (body->reason >= 3) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "reason");
    }
}

static void encode_dome_alarm(struct out *out, const struct observatory_dome_alarm *body)
{
    put_number(out, body->reason);
}

static void decode_dome_alarm(struct in *in, struct observatory_dome_alarm *body)
{
    body->reason = take_word(in, "reason", 3);
}

static void encode_focuser_goto(struct out *out, const struct observatory_focuser_goto *body)
{
    put_number(out, body->position);
}

static void decode_focuser_goto(struct in *in, struct observatory_focuser_goto *body)
{
    body->position = (uint32_t)take_number(in, "position", 32);
}

static void encode_focuser_state(struct out *out, const struct observatory_focuser_state *body)
{
    put_number(out, body->position);
    put_signed(out, body->temperature);
}

static void decode_focuser_state(struct in *in, struct observatory_focuser_state *body)
{
    body->position = (uint32_t)take_number(in, "position", 32);
    body->temperature = (int16_t)take_signed(in, "temperature", 16);
}

static void encode_weather(struct out *out, const struct observatory_weather *body)
{
    put_number(out, body->wind);
    put_octet(out, body->rain ? 1 : 0);
    put_signed(out, body->sky);
    put_number(out, body->light);
}

static void decode_weather(struct in *in, struct observatory_weather *body)
{
    body->wind = (uint16_t)take_number(in, "wind", 16);
    body->rain = take_bool(in, "rain");
    body->sky = (int16_t)take_signed(in, "sky", 16);
    body->light = (uint32_t)take_number(in, "light", 32);
}

static void check_lamp(const struct observatory_lamp *body, struct observatory_outcome *outcome)
{
    if (body->level > 100) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "level");
    }
}

static void encode_lamp(struct out *out, const struct observatory_lamp *body)
{
    put_octet(out, body->level);
}

static void decode_lamp(struct in *in, struct observatory_lamp *body)
{
    body->level = take_octet(in, "level");
}

static void check_log_line(const struct observatory_log_line *body, struct observatory_outcome *outcome)
{
    if (body->text.count > 200) {
        fail(outcome, OBSERVATORY_TOO_LONG, "text");
    }
}

static void encode_log_line(struct out *out, const struct observatory_log_line *body)
{
    put_text(out, body->text, "text");
}

static void decode_log_line(struct in *in, struct observatory_log_line *body)
{
    body->text = take_text(in, "text");
}

static void check_focuser_rate(const struct observatory_focuser_rate *body, struct observatory_outcome *outcome)
{
    if (body->rate < -2000 || body->rate > 2000) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "rate");
    }
}

static void encode_focuser_rate(struct out *out, const struct observatory_focuser_rate *body)
{
    put_signed(out, body->rate);
}

static void decode_focuser_rate(struct in *in, struct observatory_focuser_rate *body)
{
    body->rate = (int16_t)take_signed(in, "rate", 16);
}

static void check_dew_heater(const struct observatory_dew_heater *body, struct observatory_outcome *outcome)
{
    if (body->power > 80) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "power");
    }
}

static void encode_dew_heater(struct out *out, const struct observatory_dew_heater *body)
{
    put_octet(out, body->power);
}

static void decode_dew_heater(struct in *in, struct observatory_dew_heater *body)
{
    body->power = take_octet(in, "power");
}

static void check_mast_state(const struct observatory_mast_state *body, struct observatory_outcome *outcome)
{
    if (body->battery > 250) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "battery");
    }
    if (body->has_signal) {
        if (body->signal > 0) {
            fail(outcome, OBSERVATORY_OUT_OF_RANGE, "signal");
        }
    }
}

static void encode_mast_state(struct out *out, const struct observatory_mast_state *body)
{
    put_octet(out, body->battery);
    put_number(out, body->awake);
    put_octet(out, body->troubles);
    put_octet(out, body->has_signal ? 1 : 0);
    if (body->has_signal) {
        put_octet(out, (uint8_t)body->signal);
    }
}

static void decode_mast_state(struct in *in, struct observatory_mast_state *body)
{
    body->battery = take_octet(in, "battery");
    body->awake = (uint32_t)take_number(in, "awake", 32);
    body->troubles = take_octet(in, "troubles");
    body->has_signal = take_bool(in, "signal");
    if (body->has_signal) {
        body->signal = (int8_t)take_octet(in, "signal");
    }
}

static void check_sky_profile(const struct observatory_sky_profile *body, struct observatory_outcome *outcome)
{
    if (!(body->air >= -60.0f && body->air <= 60.0f)) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "air");
    }
}

static void encode_sky_profile(struct out *out, const struct observatory_sky_profile *body)
{
    for (size_t i = 0; i < 4; i++) {
        put_signed(out, body->sky[i]);
    }
    put_f32(out, body->air);
}

static void decode_sky_profile(struct in *in, struct observatory_sky_profile *body)
{
    for (size_t i = 0; i < 4; i++) {
        body->sky[i] = (int16_t)take_signed(in, "sky", 16);
    }
    body->air = take_f32(in, "air");
}

static void check_site(const struct observatory_site *body, struct observatory_outcome *outcome)
{
    if (!(body->latitude >= -90.0 && body->latitude <= 90.0)) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "latitude");
    }
    if (!(body->longitude >= -180.0 && body->longitude <= 180.0)) {
        fail(outcome, OBSERVATORY_OUT_OF_RANGE, "longitude");
    }
}

static void encode_site(struct out *out, const struct observatory_site *body)
{
    put_f64(out, body->latitude);
    put_f64(out, body->longitude);
    put_signed(out, body->time);
}

static void decode_site(struct in *in, struct observatory_site *body)
{
    body->latitude = take_f64(in, "latitude");
    body->longitude = take_f64(in, "longitude");
    body->time = take_signed(in, "time", 64);
}

static void check_door(const struct observatory_door *body, struct observatory_outcome *outcome)
{
    if (body->badge.count > 10) {
        fail(outcome, OBSERVATORY_TOO_LONG, "badge");
    }
}

static void encode_door(struct out *out, const struct observatory_door *body)
{
    put_octet(out, body->open ? 1 : 0);
    put_number(out, body->times);
    put_octets(out, body->badge);
}

static void decode_door(struct in *in, struct observatory_door *body)
{
    body->open = take_bool(in, "open");
    body->times = take_number(in, "times", 64);
    body->badge = take_octets(in, "badge");
}

static void check(const struct observatory_message *message, struct observatory_outcome *outcome)
{
    switch (message->number) {
    case OBSERVATORY_DOME_RATE:
        check_dome_rate(&message->as.dome_rate, outcome);
        break;
    case OBSERVATORY_DOME_GOTO:
        check_dome_goto(&message->as.dome_goto, outcome);
        break;
    case OBSERVATORY_SHUTTER:
        check_shutter(&message->as.shutter, outcome);
        break;
    case OBSERVATORY_DOME_STATE:
        check_dome_state(&message->as.dome_state, outcome);
        break;
    case OBSERVATORY_DOME_ALARM:
        check_dome_alarm(&message->as.dome_alarm, outcome);
        break;
    case OBSERVATORY_RE_ARM:
        break;
    case OBSERVATORY_FOCUSER_GOTO:
        break;
    case OBSERVATORY_FOCUSER_STATE:
        break;
    case OBSERVATORY_WEATHER:
        break;
    case OBSERVATORY_LAMP:
        check_lamp(&message->as.lamp, outcome);
        break;
    case OBSERVATORY_LOG_LINE:
        check_log_line(&message->as.log_line, outcome);
        break;
    case OBSERVATORY_FOCUSER_RATE:
        check_focuser_rate(&message->as.focuser_rate, outcome);
        break;
    case OBSERVATORY_DEW_HEATER:
        check_dew_heater(&message->as.dew_heater, outcome);
        break;
    case OBSERVATORY_MAST_STATE:
        check_mast_state(&message->as.mast_state, outcome);
        break;
    case OBSERVATORY_SKY_PROFILE:
        check_sky_profile(&message->as.sky_profile, outcome);
        break;
    case OBSERVATORY_SITE:
        check_site(&message->as.site, outcome);
        break;
    case OBSERVATORY_DOOR:
        check_door(&message->as.door, outcome);
        break;
    default:
        fail(outcome, OBSERVATORY_NO_SUCH_MESSAGE, "");
        break;
    }
}

struct observatory_outcome observatory_encode(const struct observatory_message *message, uint8_t *room, size_t count)
{
    struct out out = {room, count, {OBSERVATORY_GOOD, "", 0}};
    check(message, &out.outcome);
    if (out.outcome.fault != OBSERVATORY_GOOD) {
        return out.outcome;
    }
    put_number(&out, message->number);
    switch (message->number) {
    case OBSERVATORY_DOME_RATE:
        encode_dome_rate(&out, &message->as.dome_rate);
        break;
    case OBSERVATORY_DOME_GOTO:
        encode_dome_goto(&out, &message->as.dome_goto);
        break;
    case OBSERVATORY_SHUTTER:
        encode_shutter(&out, &message->as.shutter);
        break;
    case OBSERVATORY_DOME_STATE:
        encode_dome_state(&out, &message->as.dome_state);
        break;
    case OBSERVATORY_DOME_ALARM:
        encode_dome_alarm(&out, &message->as.dome_alarm);
        break;
    case OBSERVATORY_RE_ARM:
        break;
    case OBSERVATORY_FOCUSER_GOTO:
        encode_focuser_goto(&out, &message->as.focuser_goto);
        break;
    case OBSERVATORY_FOCUSER_STATE:
        encode_focuser_state(&out, &message->as.focuser_state);
        break;
    case OBSERVATORY_WEATHER:
        encode_weather(&out, &message->as.weather);
        break;
    case OBSERVATORY_LAMP:
        encode_lamp(&out, &message->as.lamp);
        break;
    case OBSERVATORY_LOG_LINE:
        encode_log_line(&out, &message->as.log_line);
        break;
    case OBSERVATORY_FOCUSER_RATE:
        encode_focuser_rate(&out, &message->as.focuser_rate);
        break;
    case OBSERVATORY_DEW_HEATER:
        encode_dew_heater(&out, &message->as.dew_heater);
        break;
    case OBSERVATORY_MAST_STATE:
        encode_mast_state(&out, &message->as.mast_state);
        break;
    case OBSERVATORY_SKY_PROFILE:
        encode_sky_profile(&out, &message->as.sky_profile);
        break;
    case OBSERVATORY_SITE:
        encode_site(&out, &message->as.site);
        break;
    case OBSERVATORY_DOOR:
        encode_door(&out, &message->as.door);
        break;
    default:
        break;
    }
    if (out.outcome.fault != OBSERVATORY_GOOD) {
        out.outcome.octets = 0;
    }
    return out.outcome;
}

struct observatory_outcome observatory_decode(struct observatory_message *message, const uint8_t *octets, size_t count)
{
    struct in in = {octets, count, {OBSERVATORY_GOOD, "", 0}};
    uint64_t number = take_number(&in, "", 32);
    memset(message, 0, sizeof *message);
    if (in.outcome.fault != OBSERVATORY_GOOD || number > UINT16_MAX) {
        in.outcome.fault = OBSERVATORY_NO_SUCH_MESSAGE;
        return in.outcome;
    }
    message->number = (uint16_t)number;
    switch (message->number) {
    case OBSERVATORY_DOME_RATE:
        decode_dome_rate(&in, &message->as.dome_rate);
        break;
    case OBSERVATORY_DOME_GOTO:
        decode_dome_goto(&in, &message->as.dome_goto);
        break;
    case OBSERVATORY_SHUTTER:
        decode_shutter(&in, &message->as.shutter);
        break;
    case OBSERVATORY_DOME_STATE:
        decode_dome_state(&in, &message->as.dome_state);
        break;
    case OBSERVATORY_DOME_ALARM:
        decode_dome_alarm(&in, &message->as.dome_alarm);
        break;
    case OBSERVATORY_RE_ARM:
        break;
    case OBSERVATORY_FOCUSER_GOTO:
        decode_focuser_goto(&in, &message->as.focuser_goto);
        break;
    case OBSERVATORY_FOCUSER_STATE:
        decode_focuser_state(&in, &message->as.focuser_state);
        break;
    case OBSERVATORY_WEATHER:
        decode_weather(&in, &message->as.weather);
        break;
    case OBSERVATORY_LAMP:
        decode_lamp(&in, &message->as.lamp);
        break;
    case OBSERVATORY_LOG_LINE:
        decode_log_line(&in, &message->as.log_line);
        break;
    case OBSERVATORY_FOCUSER_RATE:
        decode_focuser_rate(&in, &message->as.focuser_rate);
        break;
    case OBSERVATORY_DEW_HEATER:
        decode_dew_heater(&in, &message->as.dew_heater);
        break;
    case OBSERVATORY_MAST_STATE:
        decode_mast_state(&in, &message->as.mast_state);
        break;
    case OBSERVATORY_SKY_PROFILE:
        decode_sky_profile(&in, &message->as.sky_profile);
        break;
    case OBSERVATORY_SITE:
        decode_site(&in, &message->as.site);
        break;
    case OBSERVATORY_DOOR:
        decode_door(&in, &message->as.door);
        break;
    default:
        fail(&in.outcome, OBSERVATORY_NO_SUCH_MESSAGE, "");
        break;
    }
    if (in.left > 0) {
        fail(&in.outcome, OBSERVATORY_LEFT_OVER, "");
    }
    if (in.outcome.fault == OBSERVATORY_GOOD) {
        check(message, &in.outcome);
    }
    if (in.outcome.fault == OBSERVATORY_GOOD) {
        in.outcome.octets = count;
    }
    return in.outcome;
}
