// The crate bellwire for programs in C: link libbellwire_c.a. Written by `header` from library/src: change that, not this file.
//
// A port is a link and its buffers on a UART; a dead-man lets a set-point drive something only while news of it is fresh. Both live in memory of
// yours, which the library never allocates, moves or keeps beyond the call. Time is handed in: a wrapping count of microseconds.
//
// Every call is safe to get wrong in the ways that a status names: a null pointer, memory that is too short or not aligned, a handle that was not
// made or was copied, a call out of the library's own call or out of an interrupt while another one is under way, a value that does not exist.
// The rest is yours: pointers that are not null must point to what the parameter says, and memory that was never made must have been
// written once (static memory has been).
//
// Caution: a freshness limit is a functional stop and no emergency stop; see README.md before anything turns.

#ifndef BELLWIRE_LIBRARY_H
#define BELLWIRE_LIBRARY_H

#include <stddef.h>
#include <stdint.h>

// An unheeded status can leave a motor on.
#if defined(__GNUC__)
#define BELLWIRE_MUST_USE __attribute__((warn_unused_result))
#else
#define BELLWIRE_MUST_USE
#endif

#ifdef __cplusplus
extern "C"
#endif
// The board's: called if the library panics, which no known input makes it do; whether anything calls it shows in the linked image. Switch
// all outputs off and do not return. Best effort: pull resistors and a watchdog must do it too.
void bellwire_panicked(void);

// The most octets that come with an event.
#define BELLWIRE_EVENT_OCTETS 64

// What a port takes whatever the width of a pointer, in units of eight octets.
#define BELLWIRE_PORT_UNITS 128

// What it takes in the width of a pointer.
#define BELLWIRE_PORT_POINTERS 16

// What a dead-man takes, in units of eight octets.
#define BELLWIRE_DEAD_MAN_UNITS 4

// Class of a message: how it is delivered.
enum bellwire_class
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // Newest wins; unconfirmed; never repeated by the library.
    BELLWIRE_CLASS_SET_POINT = 0,
    // Confirmed, in order, exactly once within a session.
    BELLWIRE_CLASS_ERRAND = 1,
    // Confirmed, order not kept.
    BELLWIRE_CLASS_REPORT = 2,
    // Unconfirmed.
    BELLWIRE_CLASS_NOTICE = 3,
};
#ifndef __cplusplus
typedef uint8_t bellwire_class;
#endif // __cplusplus

// Why a session ended.
enum bellwire_end
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // The peer restarted, or left.
    BELLWIRE_END_PEER_RESTARTED = 0,
    // Nothing was heard for longer than the peer promised.
    BELLWIRE_END_SILENCE = 1,
    // Wire version or agreement differ.
    BELLWIRE_END_MISMATCH = 2,
    // The program closed the port.
    BELLWIRE_END_CLOSED = 3,
};
#ifndef __cplusplus
typedef uint8_t bellwire_end;
#endif // __cplusplus

// What an event is.
enum bellwire_happening
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // Nothing more for now.
    BELLWIRE_HAPPENING_NONE = 0,
    // A session is open: `identity`, `fingerprint`, `cause` of the peer.
    BELLWIRE_HAPPENING_OPENED = 1,
    // The peer is silent for longer than it should be.
    BELLWIRE_HAPPENING_QUIET = 2,
    // The peer is heard again.
    BELLWIRE_HAPPENING_RESUMED = 3,
    // The session has ended: `end`, and `cause` where the peer restarted.
    BELLWIRE_HAPPENING_ENDED = 4,
    // The boards do not speak the same: `identity` and `fingerprint` of the peer.
    BELLWIRE_HAPPENING_MISMATCH = 5,
    // A message: `message_class`, `message`, `octets`, `length`, `arrived`, `missed`.
    BELLWIRE_HAPPENING_MESSAGE = 6,
    // What became of an errand or report: `ticket`, `outcome`.
    BELLWIRE_HAPPENING_OUTCOME = 7,
    // An errand or report is sent again: `ticket`, `tries`.
    BELLWIRE_HAPPENING_RESENT = 8,
    // Foreign text, as it came: `octets`, `length`.
    BELLWIRE_HAPPENING_TEXT = 9,
    // Something was refused: `reject`.
    BELLWIRE_HAPPENING_REFUSED = 10,
};
#ifndef __cplusplus
typedef uint8_t bellwire_happening;
#endif // __cplusplus

// What a dead-man does now.
enum bellwire_motion
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // Stopped; no set-point has been taken since the reason arose.
    BELLWIRE_MOTION_HELD = 0,
    // The newest set-point drives.
    BELLWIRE_MOTION_RUNNING = 1,
    // Stopped; set-points came, and ceased.
    BELLWIRE_MOTION_STALE = 2,
    // Stopped although set-points are fresh: first the stop value, then an operator's re-arming.
    BELLWIRE_MOTION_MUST_REARM = 3,
};
#ifndef __cplusplus
typedef uint8_t bellwire_motion;
#endif // __cplusplus

// What became of an errand or report.
enum bellwire_outcome
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // The receiving program had it. It does not mean done.
    BELLWIRE_OUTCOME_DELIVERED = 0,
    // Certain: it never left.
    BELLWIRE_OUTCOME_NOT_SENT = 1,
    // It may have arrived.
    BELLWIRE_OUTCOME_UNKNOWN = 2,
};
#ifndef __cplusplus
typedef uint8_t bellwire_outcome;
#endif // __cplusplus

// Where the board's own number comes from, best first.
enum bellwire_own
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // From storage: the program read N and has stored N + 16 before it made the port.
    BELLWIRE_OWN_STORED = 0,
    // 32 random bits.
    BELLWIRE_OWN_RANDOM = 1,
    // Neither: the link keeps quiet for a while after each start.
    BELLWIRE_OWN_NUMBERLESS = 2,
};
#ifndef __cplusplus
typedef uint8_t bellwire_own;
#endif // __cplusplus

// Why a dead-man is stopped.
enum bellwire_reason
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // It is not, or has nothing new to tell.
    BELLWIRE_REASON_NONE = 0,
    // The board has just started.
    BELLWIRE_REASON_BOOT = 1,
    // The session with the peer ended.
    BELLWIRE_REASON_LINK_ENDED = 2,
    // The agreements differ.
    BELLWIRE_REASON_MISMATCH = 3,
    // No new set-point arrived within the limit.
    BELLWIRE_REASON_NO_NEWS = 4,
    // An operator, or the board itself, asked for the stop.
    BELLWIRE_REASON_OPERATOR = 5,
};
#ifndef __cplusplus
typedef uint8_t bellwire_reason;
#endif // __cplusplus

// State of a link.
enum bellwire_state
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // No session.
    BELLWIRE_STATE_DOWN = 0,
    // A session, and the peer is heard.
    BELLWIRE_STATE_UP = 1,
    // A session, but the peer has been silent for one and a half of its keep-alive periods.
    BELLWIRE_STATE_QUIET = 2,
};
#ifndef __cplusplus
typedef uint8_t bellwire_state;
#endif // __cplusplus

// How a call went. With anything but OK nothing was done.
enum bellwire_status
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // Done.
    BELLWIRE_STATUS_OK = 0,
    // A pointer is null.
    BELLWIRE_STATUS_NULL = 1,
    // The memory is smaller than this library needs: is the header that of the library?
    BELLWIRE_STATUS_SHORT = 2,
    // The memory is not aligned for its type.
    BELLWIRE_STATUS_UNALIGNED = 3,
    // The handle was not made, or was copied after it was made.
    BELLWIRE_STATUS_NOT_MADE = 4,
    // Another call with this handle is under way: this one came out of a callback or an interrupt.
    BELLWIRE_STATUS_BUSY = 5,
    // A value that does not exist: a class, a stop, where the own number comes from, why the board started.
    BELLWIRE_STATUS_NO_SUCH_VALUE = 6,
    // Not sent: the link is down.
    BELLWIRE_STATUS_NOT_OPEN = 7,
    // Not sent: the queue is full.
    BELLWIRE_STATUS_QUEUE_FULL = 8,
    // Not sent: longer than the session allows.
    BELLWIRE_STATUS_TOO_LONG = 9,
    // Not sent: the payload does not begin with a message number in its shortest form.
    BELLWIRE_STATUS_BAD_MESSAGE_NUMBER = 10,
    // Not re-armed: the agreements differ; a matching peer must open first.
    BELLWIRE_STATUS_MISMATCH = 11,
    // Not re-armed: no fresh set-point is there; the sender must stream.
    BELLWIRE_STATUS_NO_NEWS = 12,
    // Not re-armed: the newest set-point is not the stop value; the sender must let go first.
    BELLWIRE_STATUS_NOT_AT_STOP = 13,
};
#ifndef __cplusplus
typedef uint8_t bellwire_status;
#endif // __cplusplus

// What stopping means for an actuator.
enum bellwire_stop
#ifdef __cplusplus
  : uint8_t
#endif // __cplusplus
 {
    // Stay where it is, under power.
    BELLWIRE_STOP_HOLD = 0,
    // Short the motor or close the brake.
    BELLWIRE_STOP_BRAKE = 1,
    // Let it run out.
    BELLWIRE_STOP_COAST = 2,
    // Cut the supply.
    BELLWIRE_STOP_OFF = 3,
};
#ifndef __cplusplus
typedef uint8_t bellwire_stop;
#endif // __cplusplus

// What a board states about its link. Fill it with `bellwire_settings_uart` and change what differs.
typedef struct bellwire_settings {
    // The board's long name; 0: none.
    uint64_t identity;
    // Fingerprint of the agreement; 0: none, matches any.
    uint32_t fingerprint;
    // The board's own number, a different one at each start.
    uint32_t number;
    // Octets per second on the line; 0: so fast that it does not matter.
    uint32_t octet_rate;
    // Longest pause before the link is kept alive, µs; 0: no keep-alive and no promise to the peer. At most 8 500 000 count for the promise.
    uint32_t keep_alive;
    // Where the own number comes from: a `bellwire_own`.
    uint8_t own;
    // Why the board started, as section 4 of the wire text numbers it: 0 not known, 1 power, 2 pin, 3 watchdog, 4 software, 5 low voltage, 6 wake,
    // 7 fault.
    uint8_t cause;
    // Sendings of an errand or report in all, at least 1.
    uint8_t tries;
} bellwire_settings;

// Memory for a port. Its insides are the library's.
typedef struct bellwire_port {
    // The library's.
    uint64_t units[BELLWIRE_PORT_UNITS];
    // The library's.
    size_t pointers[BELLWIRE_PORT_POINTERS];
} bellwire_port;

// A UART, as functions of the board. They are called within the calls of a port and must not wait, nor call with that port.
typedef struct bellwire_line {
    // Handed to each function.
    void *context;
    // Moves octets that have come to `into`, at most `room`, and gives how many. Puts the time when they arrived, µs, to `arrived` (there is "now"
    // before): stamp octets in the interrupt, and give those of one stamp at a time.
    size_t (*take)(void *context, uint8_t *into, size_t room, uint32_t *arrived);
    // Takes as many of the octets for sending as there is room for now, and gives how many.
    size_t (*put)(void *context, const uint8_t *octets, size_t length);
    // Octets taken by `put` that have not left yet. May be null: unknown.
    size_t (*unsent)(void *context);
} bellwire_line;

// What a port tells. Which members count is said with `bellwire_happening`; the others are zero.
typedef struct bellwire_event {
    // The peer's long name; 0: none.
    uint64_t identity;
    // Fingerprint of the peer's agreement; 0: none.
    uint32_t fingerprint;
    // When the message arrived, µs: hand it to the dead-man.
    uint32_t arrived;
    // What kind of message it is.
    uint16_t message;
    // The errand or report that an outcome is about.
    uint16_t ticket;
    // How many octets there are.
    uint16_t length;
    // What it is: a `bellwire_happening`.
    uint8_t happening;
    // Class of the message: a `bellwire_class`.
    uint8_t message_class;
    // Set-points or notices lost right before this one.
    uint8_t missed;
    // A `bellwire_outcome`.
    uint8_t outcome;
    // Sendings so far.
    uint8_t tries;
    // Why the session ended: a `bellwire_end`.
    uint8_t end;
    // Why the peer last started, numbered as in `bellwire_settings`.
    uint8_t cause;
    // The code of the broken rule, section 9 of the wire text.
    uint8_t reject;
    // The whole payload, message number first, or the text: a copy.
    uint8_t octets[BELLWIRE_EVENT_OCTETS];
} bellwire_event;

// Memory for a dead-man. Its insides are the library's.
typedef struct bellwire_dead_man {
    // The library's.
    uint64_t units[BELLWIRE_DEAD_MAN_UNITS];
} bellwire_dead_man;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

// The status in plain words, a text of ASCII that stays.
const char *bellwire_status_words(uint8_t status);

// The settings for two boards on a UART of `baud` bits per second (8N1): keep-alive after 1 s, five tries. `own` (a `bellwire_own`) and `number` are
// the board's own number.
BELLWIRE_MUST_USE
bellwire_status bellwire_settings_uart(struct bellwire_settings *settings,
                                       uint32_t baud,
                                       uint8_t own,
                                       uint32_t number);

// Makes a port with COBS, a 16-bit FCS, payloads up to 48 octets, one confirmed message under way and a queue of four. `size` is `sizeof *port`.
// It is closed until opened. Line and settings are copied. A port that was there before is forgotten.
BELLWIRE_MUST_USE
bellwire_status bellwire_port_make(struct bellwire_port *port,
                                   size_t size,
                                   const struct bellwire_line *line,
                                   const struct bellwire_settings *settings,
                                   uint32_t now);

// Opens the link, and keeps it open from now on: after an end it opens again by itself.
BELLWIRE_MUST_USE bellwire_status bellwire_port_open(struct bellwire_port *port, uint32_t now);

// Ends the session, if there is one, and stays closed.
BELLWIRE_MUST_USE bellwire_status bellwire_port_close(struct bellwire_port *port, uint32_t now);

// Moves octets both ways without waiting, runs the timers, and gives the next event to `event`. Call it until it gives BELLWIRE_HAPPENING_NONE,
// then do your own work, then wait for an octet or `bellwire_port_wake`. An error leaves `event` as it was.
BELLWIRE_MUST_USE
bellwire_status bellwire_port_service(struct bellwire_port *port,
                                      uint32_t now,
                                      struct bellwire_event *event);

// Sets a named value at the other board: a set-point, `length` octets, message number first. The newest wins; the library never repeats it: call
// this again and again, several times in each freshness limit.
BELLWIRE_MUST_USE
bellwire_status bellwire_port_set(struct bellwire_port *port,
                                  uint32_t now,
                                  const uint8_t *payload,
                                  size_t length);

// Sends a message of any class (a `bellwire_class`), message number first. An errand or report ends in an outcome with the ticket that is given
// to `ticket`, which may be null.
BELLWIRE_MUST_USE
bellwire_status bellwire_port_send(struct bellwire_port *port,
                                   uint32_t now,
                                   uint8_t message_class,
                                   const uint8_t *payload,
                                   size_t length,
                                   uint16_t *ticket);

// Gives the state of the link (a `bellwire_state`) to `state`.
BELLWIRE_MUST_USE bellwire_status bellwire_port_state(struct bellwire_port *port, uint8_t *state);

// Gives to `wait` how many µs may pass until the port must be served if nothing comes before: 0 at once, UINT32_MAX any time. A board that
// drives something must look at its dead-man too.
BELLWIRE_MUST_USE
bellwire_status bellwire_port_wake(struct bellwire_port *port,
                                   uint32_t now,
                                   uint32_t *wait);

// Makes a dead-man, held since boot. `size` is `sizeof *dead_man`. `stop_value` is what it gives when stopped, `limit` how long a set-point
// drives after its arrival, µs (at most 1 073 741 823; 0: it never moves), `stop` (a `bellwire_stop`) what stopping means.
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_make(struct bellwire_dead_man *dead_man,
                                       size_t size,
                                       int32_t stop_value,
                                       uint32_t limit,
                                       uint8_t stop);

// Hands over an event of the port, each one: the end of a session and a mismatch stop it. Set-points go in by the next function.
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_event(struct bellwire_dead_man *dead_man,
                                        const struct bellwire_event *event);

// A new valid set-point, and when it arrived (`arrived` of the event, not "now"). Feed it only what came as a set-point and was read without
// error.
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_set_point(struct bellwire_dead_man *dead_man,
                                            int32_t value,
                                            uint32_t arrived);

// Gives to `value` what drives the actuator now: the newest set-point while running, else the stop value. Call it in each turn of the loop, and do
// at once what it says. With any other status than OK `value` is as it was: stop then.
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_output(struct bellwire_dead_man *dead_man,
                                         uint32_t now,
                                         int32_t *value);

// Stops if it is time, and tells each stop out of motion once: gives its reason (a `bellwire_reason`) to `reason`.
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_check(struct bellwire_dead_man *dead_man,
                                        uint32_t now,
                                        uint8_t *reason);

// Stops at once and holds: an operator's act, or a danger on the board itself.
BELLWIRE_MUST_USE bellwire_status bellwire_dead_man_hold(struct bellwire_dead_man *dead_man);

// Lets set-points drive again: by an operator's act only, never by the program's own. The status says what is missing.
BELLWIRE_MUST_USE bellwire_status bellwire_dead_man_rearm(struct bellwire_dead_man *dead_man, uint32_t now);

// Gives to `motion` what it did when last asked (a `bellwire_motion`), and to `reason`, which may be null, why it is stopped (a
// `bellwire_reason`).
BELLWIRE_MUST_USE
bellwire_status bellwire_dead_man_motion(struct bellwire_dead_man *dead_man,
                                         uint8_t *motion,
                                         uint8_t *reason);

#ifdef __cplusplus
} // extern "C"
#endif // __cplusplus

#endif /* BELLWIRE_LIBRARY_H */
