/* Gets the interface wrong in every way that a status names, and then uses it as it is meant: statuses, never a crash. Runs on a computer, under the
 * compiler's or valgrind's checks for memory. */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "bellwire.h"

static int passed, failed;

static void check(bool good, const char *what, int line)
{
    if (good) {
        passed++;
    } else {
        failed++;
        printf("line %d: %s\n", line, what);
    }
}

#define CHECK(good) check(good, #good, __LINE__)

static void wants(bellwire_status found, bellwire_status wanted, int line)
{
    if (found != wanted)
        printf("line %d: %s, not: %s\n", line, bellwire_status_words(found), bellwire_status_words(wanted));
    found == wanted ? passed++ : failed++;
}

#define WANTS(word, call) wants((call), BELLWIRE_STATUS_##word, __LINE__)

#define LIMIT 500000u

/* Never called: no input makes the library panic, and on a computer a panic ends the program. */
void bellwire_panicked(void) {}

/* A line in memory. What is put comes out at the other one. */
struct wire {
    uint8_t octets[512];
    size_t count;
    struct wire *other;
    bool lies;
    bellwire_port *port;
    bellwire_status inside, anew;
};

static bellwire_settings settings;

static size_t put(void *context, const uint8_t *octets, size_t length);

static size_t take(void *context, uint8_t *into, size_t room, uint32_t *arrived)
{
    struct wire *wire = context;
    bellwire_event event;

    (void)arrived;
    if (wire->port != NULL) {
        bellwire_line other = {wire, NULL, NULL, NULL};
        other.take = take;
        other.put = put;
        wire->inside = bellwire_port_service(wire->port, 0, &event);
        wire->anew = bellwire_port_make(wire->port, sizeof *wire->port, &other, &settings, 0);
    }
    size_t count = wire->count < room ? wire->count : room;
    memcpy(into, wire->octets, count);
    memmove(wire->octets, wire->octets + count, wire->count - count);
    wire->count -= count;
    return wire->lies ? SIZE_MAX : count;
}

static size_t put(void *context, const uint8_t *octets, size_t length)
{
    struct wire *wire = context;
    struct wire *other = wire->other;
    size_t count = sizeof other->octets - other->count;

    if (count > length)
        count = length;
    memcpy(other->octets + other->count, octets, count);
    other->count += count;
    return wire->lies ? SIZE_MAX : count;
}

static struct wire ours, theirs;
static bellwire_port port, peer;
static bellwire_line line = {&ours, take, put, NULL}, far_line = {&theirs, take, put, NULL};

static void begin(void)
{
    memset(&ours, 0, sizeof ours);
    memset(&theirs, 0, sizeof theirs);
    ours.other = &theirs;
    theirs.other = &ours;
    WANTS(OK, bellwire_settings_uart(&settings, 115200, BELLWIRE_OWN_RANDOM, 7));
    settings.identity = 0xD03E;
    WANTS(OK, bellwire_port_make(&port, sizeof port, &line, &settings, 0));
    settings.number = 0x40000001;
    settings.identity = 0xDE5C;
    WANTS(OK, bellwire_port_make(&peer, sizeof peer, &far_line, &settings, 0));
}

/* The next event that is worth a look. */
static bellwire_event next(bellwire_port *of, uint32_t now)
{
    bellwire_event event;

    do {
        memset(&event, 0xAA, sizeof event);
        WANTS(OK, bellwire_port_service(of, now, &event));
    } while (event.happening == BELLWIRE_HAPPENING_REFUSED);
    return event;
}

/* Lets both boards run; gives the last event of `of` of this kind, and goes on without one after a second. */
static bellwire_event until(bellwire_port *of, bellwire_port *other, bellwire_happening wanted, uint32_t *now)
{
    for (int turn = 0; turn < 1000; turn++) {
        bellwire_event event;
        *now += 1000;
        while ((event = next(of, *now)).happening != BELLWIRE_HAPPENING_NONE)
            if (event.happening == wanted)
                return event;
        while (next(other, *now).happening != BELLWIRE_HAPPENING_NONE)
            ;
    }
    CHECK(!"it happens");
    return next(of, *now);
}

static void null_pointers(void)
{
    bellwire_event event = {0};
    bellwire_dead_man man = {{0}};
    bellwire_line half = line;
    uint8_t small, payload[2] = {5};
    uint32_t wait;
    int32_t value;

    begin();
    WANTS(NULL, bellwire_settings_uart(NULL, 115200, BELLWIRE_OWN_RANDOM, 1));
    WANTS(NULL, bellwire_port_make(NULL, sizeof port, &line, &settings, 0));
    WANTS(NULL, bellwire_port_make(&port, sizeof port, NULL, &settings, 0));
    WANTS(NULL, bellwire_port_make(&port, sizeof port, &line, NULL, 0));
    half.take = NULL;
    WANTS(NULL, bellwire_port_make(&port, sizeof port, &half, &settings, 0));
    half = line;
    half.put = NULL;
    WANTS(NULL, bellwire_port_make(&port, sizeof port, &half, &settings, 0));
    WANTS(NULL, bellwire_port_open(NULL, 0));
    WANTS(NULL, bellwire_port_close(NULL, 0));
    WANTS(NULL, bellwire_port_service(NULL, 0, &event));
    WANTS(NULL, bellwire_port_service(&port, 0, NULL));
    WANTS(NULL, bellwire_port_set(NULL, 0, payload, 1));
    WANTS(NULL, bellwire_port_set(&port, 0, NULL, 1));
    WANTS(NULL, bellwire_port_send(NULL, 0, BELLWIRE_CLASS_ERRAND, payload, 1, NULL));
    WANTS(NULL, bellwire_port_send(&port, 0, BELLWIRE_CLASS_ERRAND, NULL, 1, NULL));
    WANTS(NULL, bellwire_port_state(NULL, &small));
    WANTS(NULL, bellwire_port_state(&port, NULL));
    WANTS(NULL, bellwire_port_wake(NULL, 0, &wait));
    WANTS(NULL, bellwire_port_wake(&port, 0, NULL));
    WANTS(NULL, bellwire_dead_man_make(NULL, sizeof man, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    WANTS(OK, bellwire_dead_man_make(&man, sizeof man, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    WANTS(NULL, bellwire_dead_man_event(NULL, &event));
    WANTS(NULL, bellwire_dead_man_event(&man, NULL));
    WANTS(NULL, bellwire_dead_man_set_point(NULL, 0, 0));
    WANTS(NULL, bellwire_dead_man_output(NULL, 0, &value));
    WANTS(NULL, bellwire_dead_man_output(&man, 0, NULL));
    WANTS(NULL, bellwire_dead_man_check(NULL, 0, &small));
    WANTS(NULL, bellwire_dead_man_check(&man, 0, NULL));
    WANTS(NULL, bellwire_dead_man_hold(NULL));
    WANTS(NULL, bellwire_dead_man_rearm(NULL, 0));
    WANTS(NULL, bellwire_dead_man_motion(NULL, &small, &small));
    WANTS(NULL, bellwire_dead_man_motion(&man, NULL, &small));
    WANTS(OK, bellwire_dead_man_motion(&man, &small, NULL));
}

static void memory_that_will_not_do(void)
{
    static bellwire_port twice[2];
    static bellwire_dead_man men[2];
    bellwire_port *crooked = (bellwire_port *)(void *)((uint8_t *)twice + 1);
    bellwire_dead_man *askew = (bellwire_dead_man *)(void *)((uint8_t *)men + 4);
    bellwire_event event;
    uint8_t motion;

    begin();
    WANTS(SHORT, bellwire_port_make(twice, 0, &line, &settings, 0));
    WANTS(SHORT, bellwire_port_make(twice, sizeof(bellwire_port) / 2, &line, &settings, 0));
    WANTS(UNALIGNED, bellwire_port_make(crooked, sizeof(bellwire_port), &line, &settings, 0));
    WANTS(UNALIGNED, bellwire_port_service(crooked, 0, &event));
    WANTS(SHORT, bellwire_dead_man_make(men, sizeof *men / 2, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    WANTS(UNALIGNED, bellwire_dead_man_make(askew, sizeof *men, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    WANTS(UNALIGNED, bellwire_dead_man_motion(askew, &motion, NULL));
    for (size_t octet = 0; octet < sizeof twice; octet++)
        CHECK(((uint8_t *)twice)[octet] == 0);
}

static void wrong_order(void)
{
    static bellwire_port fresh, copy;
    static bellwire_dead_man man, other;
    bellwire_event event;
    uint8_t state, payload[] = {0, 0};
    int32_t value = 77;

    begin();
    WANTS(NOT_MADE, bellwire_port_open(&fresh, 0));
    WANTS(NOT_MADE, bellwire_port_service(&fresh, 0, &event));
    WANTS(NOT_MADE, bellwire_port_set(&fresh, 0, payload, sizeof payload));
    WANTS(NOT_MADE, bellwire_port_state(&fresh, &state));
    copy = port;
    WANTS(NOT_MADE, bellwire_port_open(&copy, 0));
    WANTS(NOT_MADE, bellwire_dead_man_output(&man, 0, &value));
    WANTS(NOT_MADE, bellwire_dead_man_rearm(&man, 0));
    CHECK(value == 77);
    WANTS(OK, bellwire_dead_man_make(&man, sizeof man, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    other = man;
    WANTS(NOT_MADE, bellwire_dead_man_hold(&other));
    /* One taken for the other. */
    WANTS(NOT_MADE, bellwire_dead_man_hold((bellwire_dead_man *)(void *)&port));
    /* Before the opening, and before the session. */
    WANTS(NOT_OPEN, bellwire_port_set(&port, 0, payload, sizeof payload));
    WANTS(OK, bellwire_port_open(&port, 0));
    WANTS(NOT_OPEN, bellwire_port_send(&port, 0, BELLWIRE_CLASS_NOTICE, payload, sizeof payload, NULL));
    WANTS(OK, bellwire_port_open(&port, 0));
    WANTS(OK, bellwire_port_close(&port, 0));
    WANTS(OK, bellwire_port_close(&port, 0));
    WANTS(OK, bellwire_port_state(&port, &state));
    CHECK(state == BELLWIRE_STATE_DOWN);
}

static void no_such_values(void)
{
    static bellwire_dead_man man;
    bellwire_event event = {0};
    uint8_t payload[] = {0, 0};
    uint16_t ticket = 9;

    begin();
    WANTS(NO_SUCH_VALUE, bellwire_settings_uart(&settings, 115200, 3, 7));
    settings.own = 200;
    WANTS(NO_SUCH_VALUE, bellwire_port_make(&port, sizeof port, &line, &settings, 0));
    settings.own = BELLWIRE_OWN_NUMBERLESS;
    settings.cause = 8;
    WANTS(NO_SUCH_VALUE, bellwire_port_make(&port, sizeof port, &line, &settings, 0));
    settings.cause = 0;
    settings.tries = 0;
    WANTS(NO_SUCH_VALUE, bellwire_port_make(&port, sizeof port, &line, &settings, 0));
    settings.tries = 5;
    settings.keep_alive = UINT32_MAX;
    WANTS(NO_SUCH_VALUE, bellwire_port_make(&port, sizeof port, &line, &settings, 0));
    WANTS(NO_SUCH_VALUE, bellwire_port_send(&port, 0, 4, payload, sizeof payload, &ticket));
    WANTS(NO_SUCH_VALUE, bellwire_dead_man_make(&man, sizeof man, 0, LIMIT, 4));
    WANTS(OK, bellwire_dead_man_make(&man, sizeof man, 0, UINT32_MAX, BELLWIRE_STOP_OFF));
    event.happening = 11;
    WANTS(NO_SUCH_VALUE, bellwire_dead_man_event(&man, &event));
    event.happening = BELLWIRE_HAPPENING_ENDED;
    event.end = 4;
    WANTS(NO_SUCH_VALUE, bellwire_dead_man_event(&man, &event));
    event.end = BELLWIRE_END_PEER_RESTARTED;
    event.cause = 255;
    WANTS(NO_SUCH_VALUE, bellwire_dead_man_event(&man, &event));
    CHECK(ticket == 9);
    for (int status = 0; status < 256; status++)
        CHECK(strlen(bellwire_status_words((uint8_t)status)) > 3);
}

/* The board's functions call back, and say that they moved more than there was. */
static void a_line_that_lies(void)
{
    bellwire_event event;
    uint8_t state;

    begin();
    ours.port = &port;
    WANTS(OK, bellwire_port_open(&port, 0));
    WANTS(OK, bellwire_port_service(&port, 0, &event));
    CHECK(ours.inside == BELLWIRE_STATUS_BUSY);
    CHECK(ours.anew == BELLWIRE_STATUS_BUSY);
    ours.port = NULL;
    ours.lies = true;
    for (uint32_t turn = 0; turn < 2000; turn++)
        WANTS(OK, bellwire_port_service(&port, turn * 1000, &event));
    WANTS(OK, bellwire_port_state(&port, &state));
    CHECK(state == BELLWIRE_STATE_DOWN);
}

/* 100 000 octets at random, the same each time. */
static void noise(void)
{
    uint32_t number = 20260101, now = 0;
    int found = 0;

    begin();
    WANTS(OK, bellwire_port_open(&port, now));
    for (int turn = 0; turn < 1000; turn++) {
        bellwire_event event;
        for (ours.count = 0; ours.count < 100; ours.count++) {
            number = number * 1664525u + 1013904223u;
            ours.octets[ours.count] = (uint8_t)(number >> 24);
        }
        theirs.count = 0;
        now += 1000;
        do {
            WANTS(OK, bellwire_port_service(&port, now, &event));
            found += event.happening == BELLWIRE_HAPPENING_REFUSED;
            CHECK(event.happening == BELLWIRE_HAPPENING_NONE || event.happening == BELLWIRE_HAPPENING_REFUSED ||
                  event.happening == BELLWIRE_HAPPENING_TEXT);
        } while (event.happening != BELLWIRE_HAPPENING_NONE);
    }
    CHECK(found > 300);
}

static void as_it_is_meant(void)
{
    static bellwire_dead_man man;
    bellwire_event event;
    uint32_t now = 0, arrived, wait;
    uint16_t ticket = 0;
    uint8_t long_payload[49] = {0}, rate[] = {0, 80}, none, motion;
    int32_t value = -1;

    begin();
    WANTS(OK, bellwire_dead_man_make(&man, sizeof man, 0, LIMIT, BELLWIRE_STOP_BRAKE));
    WANTS(OK, bellwire_port_open(&port, now));
    WANTS(OK, bellwire_port_wake(&port, now, &wait));
    CHECK(wait == 0);
    WANTS(OK, bellwire_port_open(&peer, now));
    event = until(&port, &peer, BELLWIRE_HAPPENING_OPENED, &now);
    CHECK(event.identity == 0xDE5C && event.fingerprint == 0 && event.length == 0);
    WANTS(OK, bellwire_dead_man_event(&man, &event));
    for (int turn = 0; turn < 100; turn++)
        (void)next(&peer, now += 1000), (void)next(&port, now);
    WANTS(TOO_LONG, bellwire_port_set(&port, now, long_payload, sizeof long_payload));
    WANTS(TOO_LONG, bellwire_port_set(&port, now, long_payload, SIZE_MAX));
    WANTS(BAD_MESSAGE_NUMBER, bellwire_port_set(&port, now, NULL, 0));
    WANTS(BAD_MESSAGE_NUMBER, bellwire_port_set(&port, now, (const uint8_t *)"\xFF", 1));
    WANTS(OK, bellwire_port_set(&peer, now, rate, sizeof rate));
    event = until(&port, &peer, BELLWIRE_HAPPENING_MESSAGE, &now);
    CHECK(event.message == 0 && event.message_class == BELLWIRE_CLASS_SET_POINT && event.length == 2);
    CHECK(memcmp(event.octets, rate, 2) == 0 && event.octets[2] == 0);
    arrived = event.arrived;
    WANTS(NO_NEWS, bellwire_dead_man_rearm(&man, now));
    WANTS(OK, bellwire_dead_man_set_point(&man, 40, arrived));
    WANTS(NOT_AT_STOP, bellwire_dead_man_rearm(&man, now));
    WANTS(OK, bellwire_dead_man_output(&man, now, &value));
    CHECK(value == 0);
    WANTS(OK, bellwire_dead_man_set_point(&man, 0, arrived));
    WANTS(OK, bellwire_dead_man_rearm(&man, now));
    WANTS(OK, bellwire_dead_man_set_point(&man, 40, arrived));
    WANTS(OK, bellwire_dead_man_output(&man, arrived + LIMIT - 1, &value));
    CHECK(value == 40);
    WANTS(OK, bellwire_dead_man_output(&man, arrived + LIMIT, &value));
    CHECK(value == 0);
    WANTS(OK, bellwire_dead_man_check(&man, arrived + LIMIT, &none));
    CHECK(none == BELLWIRE_REASON_NO_NEWS);
    WANTS(OK, bellwire_dead_man_check(&man, arrived + LIMIT, &none));
    CHECK(none == BELLWIRE_REASON_NONE);
    WANTS(OK, bellwire_dead_man_motion(&man, &motion, &none));
    CHECK(motion == BELLWIRE_MOTION_STALE && none == BELLWIRE_REASON_NO_NEWS);
    for (int errand = 0; errand < 4; errand++)
        WANTS(OK, bellwire_port_send(&port, now, BELLWIRE_CLASS_ERRAND, (const uint8_t *)"\x05", 1, &ticket));
    WANTS(QUEUE_FULL, bellwire_port_send(&port, now, BELLWIRE_CLASS_ERRAND, (const uint8_t *)"\x05", 1, NULL));
    do
        event = until(&port, &peer, BELLWIRE_HAPPENING_OUTCOME, &now);
    while (event.ticket != ticket && event.outcome == BELLWIRE_OUTCOME_DELIVERED);
    CHECK(event.ticket == ticket && event.outcome == BELLWIRE_OUTCOME_DELIVERED);
    WANTS(OK, bellwire_port_close(&port, now));
    event = until(&port, &peer, BELLWIRE_HAPPENING_ENDED, &now);
    CHECK(event.end == BELLWIRE_END_CLOSED);
    WANTS(OK, bellwire_dead_man_event(&man, &event));
    WANTS(OK, bellwire_dead_man_motion(&man, &motion, &none));
    CHECK(motion == BELLWIRE_MOTION_HELD && none == BELLWIRE_REASON_LINK_ENDED);
}

int main(void)
{
    null_pointers();
    memory_that_will_not_do();
    wrong_order();
    no_such_values();
    a_line_that_lies();
    noise();
    as_it_is_meant();
    printf("%d checks hold, %d do not\n", passed, failed);
    return failed > 0;
}
