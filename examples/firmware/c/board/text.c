#include "text.h"

void text_word(struct text *text, const char *word)
{
    while (*word != '\0' && text->count < TEXT_MOST)
        text->octets[text->count++] = *word++;
}

void text_count(struct text *text, uint32_t number)
{
    char digits[11];
    char *first = digits + sizeof digits - 1;

    *first = '\0';
    do {
        *--first = (char)('0' + number % 10);
        number /= 10;
    } while (number != 0);
    text_word(text, first);
}

void text_number(struct text *text, int32_t number)
{
    if (number < 0)
        text_word(text, "-");
    text_count(text, number < 0 ? 0u - (uint32_t)number : (uint32_t)number);
}
