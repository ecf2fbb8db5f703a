/* Octets on the line and frames between them: sections 1 and 2 of WIRE.md. */
#include "bellwire.h"

uint16_t bw_fcs(const uint8_t *octets, uint16_t length)
{
    uint16_t crc = 0xFFFF;
    for (uint16_t at = 0; at < length; at++) {
        crc ^= octets[at];
        for (int bit = 0; bit < 8; bit++) {
            crc = (uint16_t)((crc >> 1) ^ ((crc & 1) ? 0x8408 : 0));
        }
    }
    return (uint16_t)(crc ^ 0xFFFF);
}

static uint8_t delimiter(const struct bw_line *line)
{
    return line->framing == BW_COBS ? 0x00 : 0x7E;
}

static bool named(const struct bw_line *line, uint8_t octet)
{
    return octet < 32 && ((line->characters >> octet) & 1);
}

static bool is_text(uint8_t octet)
{
    return (octet >= 0x20 && octet <= 0x7E) || (octet >= 7 && octet <= 13) || octet == 0x1B;
}

uint16_t bw_encode(const struct bw_line *line, const uint8_t *frame, uint16_t length, uint8_t *out)
{
    uint16_t fcs = bw_fcs(frame, length), end = 1, code = 1;
    out[0] = delimiter(line);
    if (line->framing == BW_COBS) {
        out[end++] = 1;
    }
    for (uint16_t at = 0; at < length + 2; at++) {
        uint8_t octet = at < length ? frame[at] : (uint8_t)(at == length ? fcs : fcs >> 8);
        if (line->framing == BW_OCTET_STUFFING) {
            if (octet == 0x7E || octet == 0x7D || named(line, octet)) {
                out[end++] = 0x7D;
                octet ^= 0x20;
            }
            out[end++] = octet;
            continue;
        }
        if (out[code] == 255) {
            code = end;
            out[end++] = 1;
        }
        if (octet) {
            out[end++] = octet;
            out[code]++;
        } else {
            code = end;
            out[end++] = 1;
        }
    }
    out[end++] = delimiter(line);
    return end;
}

/* Puts an octet into the frame; false: no room. */
static bool put(struct bw_line *line, uint8_t octet)
{
    if (line->length >= sizeof line->frame) {
        return false;
    }
    line->frame[line->length++] = octet;
    return true;
}

/* W-3 and W-4. */
static enum bw_reject decode_cobs(struct bw_line *line)
{
    uint16_t at = 0;
    uint8_t last = 0;
    while (at < line->raw_length) {
        uint8_t code = line->raw[at];
        if (at + code > line->raw_length) {
            return BW_BROKEN_CODE;
        }
        if (last == 255 && code == 1 && at + 1 == line->raw_length) {
            return BW_NOT_CANONICAL;
        }
        if (at > 0 && last < 255 && !put(line, 0)) {
            return BW_TOO_LONG;
        }
        for (uint8_t more = 1; more < code; more++) {
            if (!put(line, line->raw[at + more])) {
                return BW_TOO_LONG;
            }
        }
        at = (uint16_t)(at + code);
        last = code;
    }
    return BW_OK;
}

/* W-5. */
static enum bw_reject decode_stuffed(struct bw_line *line)
{
    bool escaped = false;
    for (uint16_t at = 0; at < line->raw_length; at++) {
        uint8_t octet = line->raw[at];
        if (!escaped && octet == 0x7D) {
            escaped = true;
        } else if (escaped || !named(line, octet)) {
            if (!put(line, escaped ? octet ^ 0x20 : octet)) {
                return BW_TOO_LONG;
            }
            escaped = false;
        }
    }
    return escaped ? BW_ABORTED : BW_OK;
}

/* What the candidate in `raw` is. */
static enum bw_found judge(struct bw_line *line, enum bw_reject *why)
{
    bool text = true;
    for (uint16_t at = 0; at < line->raw_length; at++) {
        text = text && is_text(line->raw[at]);
    }
    line->length = 0;
    *why = line->framing == BW_COBS ? decode_cobs(line) : decode_stuffed(line);
    if (*why == BW_OK && line->framing == BW_OCTET_STUFFING && line->length == 0 && !text) {
        return BW_NOTHING;
    }
    if (*why == BW_OK && line->length < 4) {
        *why = BW_TOO_SHORT;
    }
    if (*why == BW_OK && bw_fcs(line->frame, line->length) != 0x0F47) {
        *why = BW_BAD_FCS;
    }
    if (line->is_piece) {
        *why = BW_TOO_LONG;
    }
    if (*why == BW_OK) {
        line->length = (uint16_t)(line->length - 2);
        return BW_A_FRAME;
    }
    return text ? BW_TEXT : BW_REFUSED;
}

enum bw_found bw_push(struct bw_line *line, uint8_t octet, enum bw_reject *why)
{
    enum bw_found found = BW_NOTHING;
    if (line->told) {
        line->raw_length = 0;
        line->told = false;
    }
    if (octet == delimiter(line)) {
        if (line->raw_length > 0) {
            found = judge(line, why);
        }
        line->skips = line->is_piece = false;
        line->told = true;
        return found;
    }
    if (line->skips) {
        return BW_NOTHING;
    }
    line->raw[line->raw_length++] = octet;
    if (line->raw_length < sizeof line->raw) {
        return BW_NOTHING;
    }
    /* W-8, W-9: full; a long text goes on in pieces. */
    line->is_piece = true;
    line->told = true;
    found = judge(line, why);
    line->is_piece = found == BW_TEXT;
    line->skips = found != BW_TEXT;
    *why = BW_TOO_LONG;
    return found;
}
