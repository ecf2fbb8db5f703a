/* Lets set-points drive something only while news of it is fresh (the end of section 5.6 of WIRE.md). */
#include "bellwire.h"

void bw_dead_man_init(struct bw_dead_man *man, uint32_t limit, int32_t stop)
{
    man->limit = limit;
    man->stop = man->value = stop;
    man->arrived = 0;
    man->armed = man->fresh = false;
}

void bw_dead_man_news(struct bw_dead_man *man, int32_t value, uint32_t arrived)
{
    (void)bw_dead_man_output(man, arrived); /* if the one before had lapsed by then, this trips first */
    man->value = value;
    man->arrived = arrived;
    man->fresh = true;
}

void bw_dead_man_hold(struct bw_dead_man *man)
{
    man->armed = man->fresh = false;
}

int32_t bw_dead_man_output(struct bw_dead_man *man, uint32_t now)
{
    if (!man->fresh || now - man->arrived >= man->limit) {
        bw_dead_man_hold(man);
    }
    return man->armed ? man->value : man->stop;
}

bool bw_dead_man_rearm(struct bw_dead_man *man, uint32_t now)
{
    (void)bw_dead_man_output(man, now);
    man->armed = man->armed || (man->fresh && man->value == man->stop);
    return man->armed;
}
