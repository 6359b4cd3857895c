/* style.h - how every page looks. */
#ifndef PAPER_STYLE_H
#define PAPER_STYLE_H

/* In this order: later rules go before earlier ones. */
extern const char paper_style[];
extern const char paper_style_plots[];
extern const char paper_style_print[];

#endif
