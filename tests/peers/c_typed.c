/* The dome in C with generated code, for typed.py: `c_typed DEVICE OWN-NUMBER ARRIVALS`. It does as the messages say and reports its state after each;
 * after so many arrivals (0: never) it dies where it stands. Nothing turns. */
#define _XOPEN_SOURCE 600
#include "bellwire.h"
#include "observatory.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

static int device;

static uint16_t take(void *context, uint8_t *into, uint16_t most)
{
    ssize_t length = read(device, into, most);
    (void)context;
    return length > 0 ? (uint16_t)length : 0;
}

static void give(void *context, const uint8_t *octets, uint16_t length)
{
    (void)context;
    for (uint16_t at = 0; at < length;) {
        ssize_t written = write(device, octets + at, (size_t)(length - at));
        at = (uint16_t)(at + (written > 0 ? written : 0));
    }
}

static uint32_t milliseconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint32_t)(now.tv_sec * 1000 + now.tv_nsec / 1000000);
}

static bool open_device(const char *path)
{
    struct termios raw;
    device = open(path, O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (device < 0 || tcgetattr(device, &raw)) {
        return false;
    }
    raw.c_iflag = raw.c_oflag = raw.c_lflag = 0;
    setvbuf(stdout, 0, _IOLBF, 0);
    return tcsetattr(device, TCSANOW, &raw) == 0;
}

/* Does as the message says; whether it was one. */
static bool obey(const struct bw_event *event, struct observatory_dome_state *state, struct bw_dead_man *motor)
{
    struct observatory_message message;
    struct observatory_outcome outcome = observatory_decode(&message, event->octets, event->length);
    if (outcome.fault != OBSERVATORY_GOOD) {
        printf("refused %s\n", outcome.field);
        return false;
    }
    switch (message.number) {
    case OBSERVATORY_DOME_RATE:
        printf("arrived dome-rate %d\n", message.as.dome_rate.rate);
        bw_dead_man_news(motor, message.as.dome_rate.rate, event->arrived);
        break;
    case OBSERVATORY_DOME_GOTO:
        printf("arrived dome-goto %d\n", message.as.dome_goto.azimuth);
        state->azimuth = message.as.dome_goto.azimuth;
        break;
    case OBSERVATORY_SHUTTER:
        printf("arrived shutter %d\n", message.as.shutter.move);
        state->shutter = message.as.shutter.move == OBSERVATORY_SHUTTER_MOVE_OPEN ? 100 : 0;
        break;
    default:
        return false;
    }
    return true;
}

int main(int count, char **words)
{
    static struct bw_port port;
    struct bw_config config = { BW_COBS, 0, 11520, 0, OBSERVATORY_FINGERPRINT, 1000, 0xD0, 1, 5 };
    struct bw_uart uart = { take, give, 0 };
    struct bw_dead_man motor;
    struct observatory_message state;
    bool owed = false;
    int arrivals = 0;
    if (count != 4 || !open_device(words[1])) {
        return 2;
    }
    config.mine = (uint32_t)strtoul(words[2], 0, 0);
    memset(&state, 0, sizeof state);
    state.number = OBSERVATORY_DOME_STATE;
    bw_port_init(&port, &config, &uart);
    bw_dead_man_init(&motor, 500, 0);
    bw_open(&port, milliseconds());
    for (;;) {
        uint32_t now = milliseconds();
        struct bw_event event = bw_service(&port, now);
        struct timespec nap = { 0, 500000 };
        state.as.dome_state.rate = (int16_t)bw_dead_man_output(&motor, now);
        if (event.name == BW_MESSAGE && obey(&event, &state.as.dome_state, &motor)) {
            owed = true;
            if (++arrivals == atoi(words[3])) {
                _exit(9);
            }
        } else if (event.name == BW_ENDED) {
            bw_dead_man_hold(&motor);
        } else if (event.name == BW_NONE) {
            uint8_t room[OBSERVATORY_MOST_OCTETS];
            struct observatory_outcome outcome = observatory_encode(&state, room, sizeof room);
            owed = owed && !(outcome.fault == OBSERVATORY_GOOD && bw_send(&port, BW_REPORT, room, (uint16_t)outcome.octets));
            nanosleep(&nap, 0);
        }
    }
}
