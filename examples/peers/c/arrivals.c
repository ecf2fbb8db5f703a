/* What arrives: OPENs (W-25 to W-30), messages and acknowledgements, questions. */
#include "inside.h"

#include <string.h>

static uint32_t read32(const uint8_t *octets)
{
    return octets[0] | (uint32_t)octets[1] << 8 | (uint32_t)octets[2] << 16 | (uint32_t)octets[3] << 24;
}

/* Something valid was heard: asking goes back to its first pace (T_open). */
static void hasten(struct bw_port *port)
{
    if (!port->up && !port->told) {
        port->pace = bwi_first_pace(port);
        if (bwi_due(port->ask_at, port->now + port->pace)) {
            port->ask_at = port->now + port->pace;
        }
    }
}

/* *End* of section 5.2. */
void bwi_end_session(struct bw_port *port, enum bw_end end)
{
    if (port->has_item && !port->is_void) {
        bwi_tell(port, port->sendings ? BW_UNKNOWN : BW_NOT_SENT);
    }
    bwi_tell(port, BW_ENDED)->end = end;
    port->mine++;
    port->knows_theirs = port->up = port->owes_open = false;
    bwi_forget(port);
    port->ask_at = port->now + port->pace;
}

static void take_mismatch(struct bw_port *port, uint8_t version, uint32_t marks, bool asks)
{
    bool news = !port->told || port->told_version != version || port->told_marks != marks;
    port->pace = 1000;
    port->ask_at = port->now + port->pace;
    port->told = true;
    port->told_version = version;
    port->told_marks = marks;
    port->owes_open = false;
    if (asks) {
        bwi_owe_open(port, false);
    }
    if (news) {
        bwi_tell(port, BW_MISMATCH);
    }
}

/* W-25 to W-30. */
static void take_open(struct bw_port *port, const uint8_t *body)
{
    bool asks = (body[1] & 1) != 0, other_version = body[0] != 1;
    uint32_t theirs = read32(body + 2), ours = port->config.fingerprint;
    uint32_t marks = other_version ? 0 : read32(body + 13);
    bool echoes = (body[1] & 2) && read32(body + 6) == port->mine;
    bool differs = other_version || (marks && ours && marks != ours);
    if (other_version) {
        bwi_refuse(port, BW_OTHER_VERSION);
    }
    if (port->up) {
        if (theirs == port->theirs && echoes && !differs) {
            port->heard_at = port->now;
            if (asks) {
                bwi_owe_open(port, false);
            }
            return;
        }
        bwi_end_session(port, differs ? BW_BY_MISMATCH : BW_PEER_RESTARTED);
    }
    port->theirs = theirs;
    port->knows_theirs = true;
    if (differs) {
        take_mismatch(port, body[0], marks, asks);
        return;
    }
    port->told = false;
    hasten(port);
    if (!echoes) {
        bwi_owe_open(port, true);
        return;
    }
    bwi_forget(port);
    port->up = true;
    port->owes_open = false;
    if (asks) {
        bwi_owe_open(port, false);
    }
    port->session = (port->mine + theirs) & 0x3FFFF;
    port->max_payload = body[11] | (uint32_t)body[12] << 8;
    if (port->max_payload > BW_LARGEST) {
        port->max_payload = BW_LARGEST;
    }
    port->silence = body[17] * 100u;
    port->heard_at = port->now;
    bwi_tell(port, BW_OPENED);
}

/* Probes and requests for statistics (W-48); the only statistics are the layout. */
static void take_extended(struct bw_port *port, const struct bw_frame *frame)
{
    uint8_t answer[BW_FRAME] = { BW_EXTENDED << 5, 2 };
    hasten(port);
    if (frame->payload[0] == 1 && port->now - port->probed_at >= bwi_least(port) && frame->length < BW_FRAME - 3) {
        port->probed_at = port->now;
        memcpy(answer + 2, frame->payload + 1, frame->length - 1u);
        bwi_transmit(port, answer, (uint16_t)(frame->length + 1));
    }
    if (frame->payload[0] == 3 && port->now - port->asked_at >= bwi_least(port)) {
        port->asked_at = port->now;
        answer[1] = 4;
        answer[2] = 1;
        bwi_transmit(port, answer, 3);
    }
}

static void take_ack(struct bw_port *port, uint8_t next)
{
    uint8_t ahead = (uint8_t)(next - port->base);
    if (ahead > (port->has_item && port->sendings ? 1 : 0)) {
        bwi_refuse(port, BW_BAD_ACK);
    } else if (ahead) {
        if (!port->is_void) {
            bwi_tell(port, BW_DELIVERED);
        }
        port->has_item = false;
        port->base++;
    }
}

static void tell_message(struct bw_port *port, const struct bw_frame *frame, uint8_t missed)
{
    struct bw_event *event = bwi_tell(port, BW_MESSAGE);
    event->kind = frame->kind;
    event->number = frame->number;
    event->missed = missed;
    event->octets = frame->payload;
    event->length = frame->length;
    event->arrived = port->arrived;
}

/* Kinds 2 to 6 of this session (W-31, W-38 to W-40, W-44, W-47). */
static void take_message(struct bw_port *port, const struct bw_frame *frame)
{
    uint8_t ahead = (uint8_t)(frame->number - port->next);
    port->heard_at = port->now;
    if (frame->form) {
        take_ack(port, frame->next);
    }
    if (frame->kind == BW_SET_POINT) {
        tell_message(port, frame, (uint8_t)(frame->number - port->set_in));
        port->set_in = (uint8_t)(frame->number + 1);
    } else if (frame->kind == BW_NOTICE) {
        tell_message(port, frame, (uint8_t)(frame->number - port->notice_in));
        port->notice_in = (uint8_t)(frame->number + 1);
    } else if (frame->kind != BW_ACK && ahead != 0 && ahead != 255) {
        bwi_refuse(port, BW_OUTSIDE_WINDOW);
    } else if (frame->kind != BW_ACK) {
        port->owes_ack = true;
        if (ahead == 0) {
            port->next++;
            if (frame->length) {
                tell_message(port, frame, 0);
            }
        }
    }
}

static void take_frame(struct bw_port *port)
{
    struct bw_frame frame;
    enum bw_reject why = bw_read_frame(port->line.frame, port->line.length, &frame);
    if (why != BW_OK) {
        bwi_refuse(port, why);
    } else if (frame.addressed) {
        bwi_refuse(port, BW_NOT_FOR_US);
    } else if (frame.kind == BW_OPEN) {
        take_open(port, frame.payload);
    } else if (frame.kind == BW_EXTENDED) {
        take_extended(port, &frame);
    } else if (!port->up) {
        hasten(port);
        if (!port->told && port->now - port->prompted_at >= bwi_least(port)) {
            port->prompted_at = port->now;
            bwi_owe_open(port, true);
        }
        bwi_refuse(port, BW_NOT_OPEN);
    } else if (frame.session != (port->session & 3)) {
        if (port->now - port->challenged_at >= bwi_first_pace(port)) {
            port->challenged_at = port->now;
            bwi_owe_open(port, true);
        }
        bwi_refuse(port, BW_OTHER_SESSION);
    } else {
        take_message(port, &frame);
    }
}

void bwi_take_octet(struct bw_port *port, uint8_t octet)
{
    enum bw_reject why = BW_OK;
    if (port->line.told || port->line.raw_length == 0) {
        port->arrived = port->now;
    }
    switch (bw_push(&port->line, octet, &why)) {
    case BW_A_FRAME: take_frame(port); break;
    case BW_REFUSED: bwi_refuse(port, why); break;
    case BW_TEXT: {
        struct bw_event *event = bwi_tell(port, BW_HEARD_TEXT);
        event->octets = port->line.raw;
        event->length = port->line.raw_length;
        break;
    }
    case BW_NOTHING: break;
    }
}
