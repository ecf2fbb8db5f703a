/* A link to one peer over a line that keeps order: sections 4, 5 and 7 of WIRE.md, with a window of 1. */
#include "inside.h"

#include <string.h>

#define OPEN_ON_LINE 64u /* octets of an OPEN on the line, in round numbers */

static void write32(uint8_t *octets, uint32_t value)
{
    for (int at = 0; at < 4; at++) {
        octets[at] = (uint8_t)(value >> (8 * at));
    }
}

/* Milliseconds on the line, rounded up. */
uint32_t bwi_time_of(const struct bw_port *port, uint32_t octets)
{
    return 1 + octets * 1000 / port->config.octets_per_second;
}

/* Whether `now` has come to `then`: the clock may wrap. */
bool bwi_due(uint32_t now, uint32_t then)
{
    return (int32_t)(now - then) >= 0;
}

static uint32_t later(uint32_t one, uint32_t other)
{
    return bwi_due(one, other) ? one : other;
}

uint32_t bwi_larger(uint32_t one, uint32_t other)
{
    return one > other ? one : other;
}

/* 0 to `most`; enough to keep two boards from asking in step for ever. */
static uint32_t chance(struct bw_port *port, uint32_t most)
{
    port->chance = (port->chance * 75 + 74) % 65537;
    return port->chance % (most + 1);
}

uint32_t bwi_first_pace(const struct bw_port *port)
{
    return bwi_larger(50, bwi_time_of(port, 4 * OPEN_ON_LINE));
}

uint32_t bwi_least(const struct bw_port *port)
{
    return bwi_larger(5, bwi_time_of(port, OPEN_ON_LINE));
}

struct bw_event *bwi_tell(struct bw_port *port, enum bw_event_name name)
{
    static const struct bw_event nothing;
    struct bw_event *event = &port->events[port->event_count < 3 ? port->event_count : 3];
    port->event_count = (uint8_t)(event - port->events + 1);
    *event = nothing;
    event->name = name;
    return event;
}

void bwi_refuse(struct bw_port *port, enum bw_reject why)
{
    bwi_tell(port, BW_REFUSES)->reject = why;
}

/* All numbers 0, nothing under way. */
void bwi_forget(struct bw_port *port)
{
    port->session = 0;
    port->base = port->next = port->set_out = port->set_in = port->notice_out = port->notice_in = 0;
    port->has_item = port->owes_ack = port->yields = false;
    port->waiting = 0;
    port->pace = bwi_first_pace(port);
}

void bw_port_init(struct bw_port *port, const struct bw_config *config, const struct bw_uart *uart)
{
    uint32_t cobs = BW_FRAME - 8 + 3;
    memset(port, 0, sizeof *port);
    port->config = *config;
    port->uart = *uart;
    port->config.tries = config->tries ? config->tries : 5;
    port->line.framing = config->framing;
    port->line.characters = config->characters;
    port->mine = config->mine;
    port->chance = config->mine & 0xFFFF;
    port->frame_time = bwi_time_of(port, config->framing == BW_COBS ? cobs : BW_ON_LINE);
    bwi_forget(port);
}

void bw_open(struct bw_port *port, uint32_t now)
{
    port->opened = true;
    port->now = port->free_at = port->ask_at = now;
    port->prompted_at = port->challenged_at = port->probed_at = port->asked_at = now - 10000;
}

void bwi_transmit(struct bw_port *port, const uint8_t *frame, uint16_t length)
{
    uint8_t out[BW_ON_LINE];
    uint16_t octets = bw_encode(&port->line, frame, length, out);
    port->uart.write(port->uart.context, out, octets);
    port->sent_at = port->now;
    port->free_at = later(port->now, port->free_at) + bwi_time_of(port, octets);
}

static void send_open(struct bw_port *port)
{
    uint8_t frame[27] = { BW_OPEN << 5, 1 };
    frame[2] = (uint8_t)((port->asks ? 1 : 0) | (port->knows_theirs ? 2 : 0) | port->config.cause << 4);
    write32(frame + 3, port->mine);
    write32(frame + 7, port->knows_theirs ? port->theirs : 0);
    frame[11] = 1;
    frame[12] = BW_LARGEST & 0xFF;
    frame[13] = BW_LARGEST >> 8;
    write32(frame + 14, port->config.fingerprint);
    frame[18] = (uint8_t)((3 * port->config.keep_alive + 99) / 100);
    write32(frame + 19, (uint32_t)port->config.identity);
    write32(frame + 23, (uint32_t)(port->config.identity >> 32));
    port->owes_open = false;
    bwi_transmit(port, frame, sizeof frame);
}

void bwi_owe_open(struct bw_port *port, bool asks)
{
    port->owes_open = true;
    port->asks = asks;
}

static void send_frame(struct bw_port *port, enum bw_kind kind, uint8_t number, const uint8_t *payload, uint16_t length)
{
    uint8_t frame[BW_FRAME];
    uint16_t at = 0;
    frame[at++] = (uint8_t)((unsigned)kind << 5 | (port->session & 3) | (port->owes_ack ? 4 : 0));
    if (port->owes_ack) {
        frame[at++] = port->next;
    }
    if (kind != BW_ACK) {
        frame[at++] = number;
    }
    memcpy(frame + at, payload, length);
    port->owes_ack = false;
    bwi_transmit(port, frame, (uint16_t)(at + length));
}

/* ---- the verbs ---- */

static bool fits(const struct bw_port *port, uint16_t length)
{
    return port->up && length > 0 && length <= port->max_payload;
}

static uint16_t message_number(const uint8_t *payload)
{
    return payload[0] < 128 ? payload[0] : (uint16_t)((payload[0] & 127) | payload[1] << 7);
}

bool bw_set(struct bw_port *port, const uint8_t *payload, uint16_t length)
{
    uint8_t at = 0;
    if (!fits(port, length)) {
        return false;
    }
    while (at < port->waiting && message_number(port->set_point[at]) != message_number(payload)) {
        at++;
    }
    if (at == BW_SET_POINTS) {
        return false;
    }
    memcpy(port->set_point[at], payload, length);
    port->set_point_length[at] = length;
    port->waiting = (uint8_t)bwi_larger(port->waiting, at + 1u);
    return true;
}

bool bw_send(struct bw_port *port, enum bw_kind kind, const uint8_t *payload, uint16_t length)
{
    if (!fits(port, length) || port->has_item || (kind != BW_ERRAND && kind != BW_REPORT)) {
        return false;
    }
    memcpy(port->item, payload, length);
    port->item_kind = kind;
    port->item_length = length;
    port->sendings = 0;
    port->is_void = false;
    port->has_item = port->is_due = true;
    port->patience = bwi_larger(50, 8 * port->frame_time);
    return true;
}

bool bw_notice(struct bw_port *port, const uint8_t *payload, uint16_t length)
{
    if (!fits(port, length)) {
        return false;
    }
    send_frame(port, BW_NOTICE, port->notice_out++, payload, length);
    return true;
}

/* ---- what time brings, and what is sent ---- */

static void look_at_clock(struct bw_port *port)
{
    uint32_t now = port->now, time_out = bwi_larger(50, 8 * port->frame_time);
    if (!port->up) {
        if (bwi_due(now, port->ask_at)) {
            bwi_owe_open(port, true);
            port->ask_at = now + port->pace + chance(port, port->pace / 2);
            port->pace = port->pace * 2 > 1000 ? 1000 : port->pace * 2;
        }
    } else if (port->silence && now - port->heard_at >= port->silence + time_out) {
        bwi_end_session(port, BW_SILENCE);
        bwi_owe_open(port, true);
    } else if (port->has_item && !port->is_due && bwi_due(now, port->resend_at)) {
        if (!port->is_void && port->sendings >= port->config.tries) {
            port->is_void = true; /* W-37 */
            port->item_length = 0;
            bwi_tell(port, BW_UNKNOWN);
        } else if (!port->is_void) {
            bwi_tell(port, BW_RESENT)->sendings = (uint8_t)(port->sendings + 1);
        }
        port->is_due = true;
    }
}

static bool send_item(struct bw_port *port)
{
    if (!port->has_item || !port->is_due) {
        return false;
    }
    send_frame(port, port->item_kind, port->base, port->item, port->item_length);
    port->is_due = false;
    port->sendings = (uint8_t)(port->sendings < 255 ? port->sendings + 1 : 255);
    port->resend_at = port->free_at + port->patience + chance(port, port->patience / 4);
    port->patience = port->patience * 2 > 1000 ? 1000 : port->patience * 2; /* W-50 */
    return true;
}

/* A set-point, unless too much is unsent before it (W-46); after it an errand has its turn. */
static bool send_one(struct bw_port *port)
{
    uint8_t set_point[BW_LARGEST];
    uint16_t length = port->set_point_length[0];
    if (!port->waiting || port->yields) {
        port->yields = false;
        if (send_item(port)) {
            return true;
        }
    }
    if (!port->waiting || (bwi_due(port->free_at, port->now) && port->free_at - port->now > port->frame_time)) {
        return false;
    }
    memcpy(set_point, port->set_point[0], length);
    port->waiting--;
    memmove(port->set_point[0], port->set_point[1], sizeof port->set_point[0] * port->waiting);
    memmove(port->set_point_length, port->set_point_length + 1, sizeof port->set_point_length[0] * port->waiting);
    port->yields = true;
    send_frame(port, BW_SET_POINT, port->set_out++, set_point, length);
    return true;
}

static void send_due(struct bw_port *port)
{
    uint32_t pause = port->config.keep_alive;
    if (port->owes_open) {
        send_open(port);
    }
    while (port->up && send_one(port)) {
    }
    if (port->up && (port->owes_ack || (pause && port->now - port->sent_at >= pause))) {
        port->owes_ack = true;
        send_frame(port, BW_ACK, 0, port->item, 0);
    }
}

struct bw_event bw_service(struct bw_port *port, uint32_t now)
{
    struct bw_event event = { 0 };
    port->now = now;
    while (port->opened && port->event_count == 0) {
        if (port->in_at == port->in_end) {
            port->in_at = 0;
            port->in_end = port->uart.read(port->uart.context, port->inbox, sizeof port->inbox);
            if (port->in_end == 0) {
                break;
            }
        }
        bwi_take_octet(port, port->inbox[port->in_at++]);
    }
    if (port->opened && port->event_count < 2) {
        look_at_clock(port); /* tells at most two more: nothing is told that there is no room for */
    }
    if (port->opened) {
        send_due(port);
    }
    if (port->event_count) {
        event = port->events[0];
        port->event_count--;
        memmove(port->events, port->events + 1, sizeof port->events[0] * port->event_count);
    }
    return event;
}
