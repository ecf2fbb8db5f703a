/* A Bellwire peer in C99: the wire of core/WIRE.md, version 1, on a line between two boards that keeps order, with COBS or octet stuffing,
 * the 16-bit FCS and a window of 1. No allocation, no clock, no I/O. See README.md for what it leaves out.
 *
 * Caution: a dead-man is a functional stop, not an emergency stop: that one is a hardware circuit that removes power. */
#ifndef BELLWIRE_H
#define BELLWIRE_H

#include <stdbool.h>
#include <stdint.h>

#ifndef BW_LARGEST
#define BW_LARGEST 48 /* octets of the largest payload, 16..=1024 */
#endif
#define BW_FRAME (BW_LARGEST + 12)     /* a frame with its FCS */
#define BW_ON_LINE (2 * BW_FRAME + 2)  /* and what it takes on the line, at most */
#define BW_SET_POINTS 4                /* message numbers of set-points that may wait at once */

enum bw_kind { BW_OPEN = 1, BW_ERRAND, BW_REPORT, BW_SET_POINT, BW_ACK, BW_NOTICE, BW_EXTENDED };

/* Reject codes of section 9; BW_OK: nothing is wrong. */
enum bw_reject {
    BW_BROKEN_CODE, BW_NOT_CANONICAL, BW_ABORTED, BW_BAD_ESCAPE, BW_TOO_LONG, BW_TOO_SHORT, BW_BAD_FCS, BW_RESERVED_KIND,
    BW_SESSION_BITS, BW_BAD_ADDRESS, BW_NOT_FOR_US, BW_BAD_ACK_FORM, BW_BAD_LENGTH, BW_BAD_MESSAGE_NUMBER, BW_UNKNOWN_EXTENSION,
    BW_BAD_OPEN_FIELD, BW_OTHER_VERSION, BW_NOT_OPEN, BW_OTHER_SESSION, BW_OUTSIDE_WINDOW, BW_BAD_ACK, BW_OK
};

/* ---- octets.c: sections 1 and 2 ---- */

enum bw_framing { BW_COBS, BW_OCTET_STUFFING };

/* A line. `characters`: the control-character map of octet stuffing (W-5). */
struct bw_line {
    enum bw_framing framing;
    uint32_t characters;
    uint16_t raw_length, length;
    uint8_t raw[BW_ON_LINE];
    uint8_t frame[BW_FRAME];
    bool told, skips, is_piece;
};

/* What an octet completed. */
enum bw_found { BW_NOTHING, BW_A_FRAME, BW_TEXT, BW_REFUSED };

uint16_t bw_fcs(const uint8_t *octets, uint16_t length);
/* The octets of a frame on the line, both delimiters included; `out` holds BW_ON_LINE, `length` is at most BW_FRAME - 2. */
uint16_t bw_encode(const struct bw_line *line, const uint8_t *frame, uint16_t length, uint8_t *out);
/* Takes one octet. Until the next call a frame is in `line->frame`, `length` octets without its FCS, a text in `raw`, `raw_length` octets. */
enum bw_found bw_push(struct bw_line *line, uint8_t octet, enum bw_reject *why);

/* ---- frames.c: section 3 ---- */

struct bw_frame {
    enum bw_kind kind;
    uint8_t session, form, next, held, number, to, from;
    bool addressed;
    const uint8_t *payload;
    uint16_t length;
};

enum bw_reject bw_read_frame(const uint8_t *octets, uint16_t length, struct bw_frame *frame);

/* ---- dead_man.c ---- */

/* Starts held. Once held or stale, only a fresh stop value and then an operator's act let set-points drive again. Milliseconds. */
struct bw_dead_man {
    uint32_t limit, arrived;
    int32_t stop, value;
    bool armed, fresh;
};

void bw_dead_man_init(struct bw_dead_man *man, uint32_t limit, int32_t stop);
/* A set-point, and when it arrived. */
void bw_dead_man_news(struct bw_dead_man *man, int32_t value, uint32_t arrived);
/* Stops and holds: an operator's act, a danger on the board, the end of a session. */
void bw_dead_man_hold(struct bw_dead_man *man);
/* An operator's act, never the program's own. False: the newest value is not fresh, or not the stop value. */
bool bw_dead_man_rearm(struct bw_dead_man *man, uint32_t now);
/* What drives now; ask at least every few milliseconds. */
int32_t bw_dead_man_output(struct bw_dead_man *man, uint32_t now);

/* ---- port.c: sections 4, 5 and 7 ---- */

enum bw_event_name {
    BW_NONE, BW_OPENED, BW_ENDED, BW_MISMATCH, BW_MESSAGE, BW_DELIVERED, BW_UNKNOWN, BW_NOT_SENT, BW_RESENT, BW_HEARD_TEXT, BW_REFUSES
};
enum bw_end { BW_PEER_RESTARTED, BW_SILENCE, BW_BY_MISMATCH };

struct bw_event {
    enum bw_event_name name;
    enum bw_kind kind;       /* BW_MESSAGE */
    uint8_t number, missed;  /* BW_MESSAGE */
    uint8_t sendings;        /* BW_RESENT */
    enum bw_end end;         /* BW_ENDED */
    enum bw_reject reject;   /* BW_REFUSES */
    const uint8_t *octets;   /* payload of a message, or text; until the next call of bw_service */
    uint16_t length;
    uint32_t arrived;        /* when the message's first octets came, for the dead-man */
};

/* What a board is. Zero what does not matter. */
struct bw_config {
    enum bw_framing framing;
    uint32_t characters;
    uint32_t octets_per_second;
    uint32_t mine;        /* own number: another one at each boot (W-22) */
    uint32_t fingerprint; /* of the agreement */
    uint32_t keep_alive;  /* ms; 0: none; at most 8500 */
    uint64_t identity;
    uint8_t cause;        /* why the board started (section 4) */
    uint8_t tries;        /* sendings of an errand; 0: 5 */
};

/* The UART. `read` gives up to `most` octets that have come, `write` takes all. */
struct bw_uart {
    uint16_t (*read)(void *context, uint8_t *into, uint16_t most);
    void (*write)(void *context, const uint8_t *octets, uint16_t length);
    void *context;
};

struct bw_port {
    struct bw_config config;
    struct bw_uart uart;
    struct bw_line line;
    uint32_t mine, theirs, session, told_marks, max_payload, silence;
    bool opened, up, knows_theirs, told, owes_open, asks, owes_ack, yields;
    uint8_t told_version, base, next, set_out, set_in, notice_out, notice_in;
    /* the errand under way */
    bool has_item, is_due, is_void;
    enum bw_kind item_kind;
    uint8_t item[BW_LARGEST], sendings;
    uint16_t item_length;
    /* set-points that wait */
    uint8_t waiting, set_point[BW_SET_POINTS][BW_LARGEST];
    uint16_t set_point_length[BW_SET_POINTS];
    /* milliseconds */
    uint32_t now, arrived, free_at, sent_at, heard_at, ask_at, pace, prompted_at, challenged_at, probed_at, asked_at;
    uint32_t resend_at, patience, frame_time, chance;
    uint8_t inbox[32];
    uint16_t in_at, in_end;
    struct bw_event events[4];
    uint8_t event_count;
};

void bw_port_init(struct bw_port *port, const struct bw_config *config, const struct bw_uart *uart);
/* Asks for a session until there is one. */
void bw_open(struct bw_port *port, uint32_t now);
/* The newest value of a set-point; false: not sent. */
bool bw_set(struct bw_port *port, const uint8_t *payload, uint16_t length);
/* An errand or report. False: certainly not sent: down, too long, or the one before has no outcome yet. */
bool bw_send(struct bw_port *port, enum bw_kind kind, const uint8_t *payload, uint16_t length);
/* An unconfirmed message, at once. */
bool bw_notice(struct bw_port *port, const uint8_t *payload, uint16_t length);
/* Takes what has arrived and sends what is due; gives one event, BW_NONE if there is none. Call it until it gives none. */
struct bw_event bw_service(struct bw_port *port, uint32_t now);

#endif
