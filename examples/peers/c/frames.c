/* What a frame says: section 3 of WIRE.md. */
#include "bellwire.h"

#include <string.h>

static enum bw_reject check_open(const uint8_t *body, uint16_t length)
{
    uint16_t largest;
    if (length < 10 || (body[0] == 1 && length != 26)) {
        return BW_BAD_LENGTH;
    }
    if (body[0] != 1) {
        return BW_OK;
    }
    largest = (uint16_t)(body[11] | body[12] << 8);
    if ((body[1] & 0x88) || body[10] < 1 || body[10] > 8 || largest < 16 || largest > 1024) {
        return BW_BAD_OPEN_FIELD;
    }
    return BW_OK;
}

static enum bw_reject check_extended(const uint8_t *body, uint16_t length)
{
    bool good;
    if (length == 0) {
        return BW_BAD_LENGTH;
    }
    switch (body[0]) {
    case 1:
    case 2: good = length >= 3 && length <= 67; break;
    case 3: good = length == 1; break;
    case 4: good = length % 4 == 2; break;
    case 255: return BW_RESERVED_KIND;
    default: return BW_UNKNOWN_EXTENSION;
    }
    return good ? BW_OK : BW_BAD_LENGTH;
}

static enum bw_reject check_message(enum bw_kind kind, const uint8_t *payload, uint16_t length)
{
    if (length == 0) {
        return kind == BW_ERRAND || kind == BW_REPORT ? BW_OK : BW_BAD_MESSAGE_NUMBER;
    }
    if (payload[0] < 128 || (length > 1 && payload[1] > 0 && payload[1] < 128)) {
        return BW_OK;
    }
    return BW_BAD_MESSAGE_NUMBER;
}

enum bw_reject bw_read_frame(const uint8_t *octets, uint16_t length, struct bw_frame *frame)
{
    uint8_t control = octets[0];
    uint16_t at = 1;
    bool alone, numbered;
    memset(frame, 0, sizeof *frame);
    if (control >> 5 == 0) {
        return BW_RESERVED_KIND;
    }
    frame->kind = (enum bw_kind)(control >> 5);
    frame->form = (control >> 2) & 3;
    frame->session = control & 3;
    frame->addressed = (control & 0x10) != 0;
    alone = frame->kind == BW_OPEN || frame->kind == BW_EXTENDED;
    numbered = !alone && frame->kind != BW_ACK;
    if (alone && frame->session) {
        return BW_SESSION_BITS;
    }
    if (frame->form == 3 || (alone && frame->form) || (frame->kind == BW_ACK && !frame->form)) {
        return BW_BAD_ACK_FORM;
    }
    if (length < 1 + (frame->addressed ? 2 : 0) + frame->form + (numbered ? 1 : 0)) {
        return BW_BAD_LENGTH;
    }
    if (frame->addressed) {
        frame->to = octets[at++];
        frame->from = octets[at++];
        if ((frame->to > 250 && frame->to < 255) || frame->from > 250) {
            return BW_BAD_ADDRESS;
        }
    }
    if (frame->form) {
        frame->next = octets[at++];
    }
    if (frame->form == 2) {
        frame->held = octets[at++];
    }
    if (numbered) {
        frame->number = octets[at++];
    }
    frame->payload = octets + at;
    frame->length = (uint16_t)(length - at);
    switch (frame->kind) {
    case BW_ACK: return frame->length ? BW_BAD_LENGTH : BW_OK;
    case BW_OPEN: return check_open(frame->payload, frame->length);
    case BW_EXTENDED: return check_extended(frame->payload, frame->length);
    default: return check_message(frame->kind, frame->payload, frame->length);
    }
}
