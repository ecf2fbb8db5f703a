/* Lets Python drive the C peer: flat functions over one port and one line. */
#include "bellwire.h"

#include <string.h>

static struct bw_port port;
static struct bw_line line;
static struct bw_event event;
static uint8_t inward[4096], outward[8192];
static uint16_t in_at, in_end, out_end;

static uint16_t take(void *context, uint8_t *into, uint16_t most)
{
    uint16_t length = (uint16_t)(in_end - in_at < most ? in_end - in_at : most);
    (void)context;
    memcpy(into, inward + in_at, length);
    in_at = (uint16_t)(in_at + length);
    return length;
}

static void give(void *context, const uint8_t *octets, uint16_t length)
{
    (void)context;
    memcpy(outward + out_end, octets, length);
    out_end = (uint16_t)(out_end + length);
}

void shim_line(int framing, uint32_t characters)
{
    memset(&line, 0, sizeof line);
    line.framing = (enum bw_framing)framing;
    line.characters = characters;
}

/* -1 nothing, -2 frame, -3 text, else the reject; what was found goes to `found`. */
int shim_push(uint8_t octet, uint8_t *found, uint16_t *length)
{
    enum bw_reject why = BW_OK;
    switch (bw_push(&line, octet, &why)) {
    case BW_A_FRAME: {
        struct bw_frame frame;
        *length = line.length;
        memcpy(found, line.frame, line.length);
        why = bw_read_frame(found, *length, &frame);
        return why == BW_OK ? -2 : (int)why;
    }
    case BW_TEXT:
        *length = line.raw_length;
        memcpy(found, line.raw, line.raw_length);
        return -3;
    case BW_REFUSED: return (int)why;
    default: return -1;
    }
}

uint16_t shim_encode(const uint8_t *frame, uint16_t length, uint8_t *out)
{
    return bw_encode(&line, frame, length, out);
}

void shim_fields(const uint8_t *octets, uint16_t length, int *fields)
{
    struct bw_frame frame;
    int at = 0;
    fields[at++] = (int)bw_read_frame(octets, length, &frame);
    fields[at++] = (int)frame.kind;
    fields[at++] = frame.session;
    fields[at++] = frame.addressed ? frame.to : -1;
    fields[at++] = frame.addressed ? frame.from : -1;
    fields[at++] = frame.form ? frame.next : -1;
    fields[at++] = frame.form == 2 ? frame.held : -1;
    fields[at++] = frame.number;
    fields[at++] = frame.length;
}

void shim_port(uint32_t mine, uint32_t fingerprint, uint64_t identity, uint8_t cause, uint32_t keep_alive, uint32_t rate, uint8_t tries)
{
    struct bw_config config = { BW_COBS, 0, 0, 0, 0, 0, 0, 0, 0 };
    struct bw_uart uart = { take, give, 0 };
    config.mine = mine;
    config.fingerprint = fingerprint;
    config.identity = identity;
    config.cause = cause;
    config.keep_alive = keep_alive;
    config.octets_per_second = rate;
    config.tries = tries;
    in_at = in_end = out_end = 0;
    bw_port_init(&port, &config, &uart);
    bw_open(&port, 0);
}

void shim_feed(const uint8_t *octets, uint16_t length)
{
    in_at = 0;
    in_end = length;
    memcpy(inward, octets, length);
}

uint16_t shim_sent(uint8_t *octets)
{
    uint16_t length = out_end;
    memcpy(octets, outward, length);
    out_end = 0;
    return length;
}

int shim_send(int kind, const uint8_t *payload, uint16_t length)
{
    switch (kind) {
    case BW_SET_POINT: return bw_set(&port, payload, length);
    case BW_NOTICE: return bw_notice(&port, payload, length);
    default: return bw_send(&port, (enum bw_kind)kind, payload, length);
    }
}

/* Name, kind, number, missed, sendings, end, reject, length; octets to `octets`. */
void shim_service(uint32_t now, int *told, uint8_t *octets)
{
    event = bw_service(&port, now);
    told[0] = (int)event.name;
    told[1] = (int)event.kind;
    told[2] = event.number;
    told[3] = event.missed;
    told[4] = event.sendings;
    told[5] = (int)event.end;
    told[6] = (int)event.reject;
    told[7] = event.length;
    if (event.octets) {
        memcpy(octets, event.octets, event.length);
    }
}
