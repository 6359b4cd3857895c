/* test_audio_bank.c - a voice is loaded whole or refused with one line. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "folder.h"
#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "sound.h"

enum { FRAMES = 9600, WHY = 800 };

static struct folder folder;
static int16_t samples[FRAMES];
static struct audio_bank bank;
static char why[WHY];

static int set_up(void **state)
{
    (void)state;
    folder_make(&folder);
    for (int i = 0; i < FRAMES; i++)
        samples[i] = (int16_t)(i * 7 % 20000 - 10000);
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 1, samples, FRAMES);
    (void)sound_write_table(&folder, "word.wav");
    why[0] = '\0';
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    audio_bank_free(&bank);
    folder_remove(&folder);
    return 0;
}

static int load(void)
{
    return audio_bank_load(folder.path, &bank, why, sizeof why);
}

/* The load fails, the bank is empty, and the reason is "FOLDER/<text>". */
static void refused(int error, const char *text)
{
    char wanted[WHY];

    assert_int_equal(load(), error);
    (void)snprintf(wanted, sizeof wanted, "%s/%s", folder.path, text);
    assert_string_equal(why, wanted);
    assert_null(strchr(why, '\n'));
    for (int i = 0; i < CLIP_COUNT; i++) {
        assert_null(bank.clip[i].sample);
        assert_int_equal(bank.clip[i].frames, 0);
    }
}

/* Put other text in place of one row of the table. */
static void spoil_row(enum callout_clip clip, const char *row)
{
    char path[FOLDER_PATH_SIZE];
    char text[CLIP_COUNT * 400];
    int used = 0;

    for (int i = 0; i < CLIP_COUNT; i++) {
        if (i == (int)clip)
            used +=
                snprintf(text + used, sizeof text - (size_t)used, "%s", row);
        else
            used += snprintf(text + used, sizeof text - (size_t)used,
                             "%s\tword.wav\tword\t1.00\n",
                             callout_clip_name((enum callout_clip)i));
    }
    (void)folder_write(&folder, "cues.tsv", text, (size_t)used, path);
}

static void loads_every_clip_as_it_is_in_the_file(void **state)
{
    double seconds[CLIP_COUNT];

    (void)state;
    assert_int_equal(load(), 0);
    audio_bank_durations(&bank, seconds);
    for (int i = 0; i < CLIP_COUNT; i++) {
        assert_int_equal(bank.clip[i].frames, FRAMES);
        assert_near(seconds[i], 0.2, 1e-12);
        for (int k = 0; k < FRAMES; k++)
            assert_int_equal(bank.clip[i].sample[k], samples[k]);
    }
}

/* Whole steps of 16 bits, and what lies between two of them or beyond. */
static void rounds_finer_samples_to_the_nearest_of_16_bits(void **state)
{
    static const struct {
        int32_t fine; /* in 24 bits: 256 to a step */
        int16_t kept;
    } row[] = {{0, 0},           {127, 0},          {-127, 0},
               {129, 1},         {-129, -1},        {255, 1},
               {-255, -1},       {256, 1},          {-256, -1},
               {25800, 101},     {-25800, -101},    {25700, 100},
               {-25700, -100},   {8388352, 32767},  {8388352 + 127, 32767},
               {8388607, 32767}, {-8388608, -32768}};
    enum { ROWS = sizeof row / sizeof row[0] };
    static int32_t fine[FRAMES];

    (void)state;
    for (int bits = 24; bits <= 32; bits += 8) {
        for (int i = 0; i < FRAMES; i++)
            fine[i] = (i < ROWS ? row[i].fine : i * 1746 - 8380000) *
                      (bits == 32 ? 256 : 1);
        sound_write_wav_bits(&folder, "word.wav", bits, fine, FRAMES);
        assert_int_equal(load(), 0);
        for (int i = 0; i < ROWS; i++)
            assert_int_equal(bank.clip[CLIP_NINETY].sample[i], row[i].kept);
        for (int i = ROWS; i < FRAMES; i++)
            assert_in_range(bank.clip[CLIP_NINETY].sample[i] * 256 -
                                (i * 1746 - 8380000) + 128,
                            0, 256);
        audio_bank_free(&bank);
    }
}

static void keeps_coarser_samples_and_16_bits_as_they_are(void **state)
{
    static int32_t coarse[FRAMES];

    (void)state;
    for (int i = 0; i < FRAMES; i++)
        coarse[i] = i * 7 % 65536 - 32768;
    coarse[0] = 32767;
    coarse[1] = -32768;
    sound_write_wav_bits(&folder, "word.wav", 16, coarse, FRAMES);
    assert_int_equal(load(), 0);
    for (int i = 0; i < FRAMES; i++)
        assert_int_equal(bank.clip[CLIP_NINETY].sample[i], coarse[i]);
    audio_bank_free(&bank);
    for (int i = 0; i < FRAMES; i++)
        coarse[i] = i % 256 - 128;
    sound_write_wav_bits(&folder, "word.wav", 8, coarse, FRAMES);
    assert_int_equal(load(), 0);
    for (int i = 0; i < FRAMES; i++)
        assert_int_equal(bank.clip[CLIP_NINETY].sample[i], coarse[i] * 256);
}

/* From a hundredth of the clip's own peak on; a call is handed over 20 ms ahead
 * at the least, so that no head is longer. */
static void knows_where_a_clip_is_first_heard(void **state)
{
    static const struct {
        int quiet_frames, loud_frames;
        uint32_t head_frames;
    } row[] = {{0, FRAMES, 0},  {1, 20, 1},      {137, 500, 137},
               {960, 500, 960}, {2000, 10, 960}, {FRAMES, 0, 0}};

    (void)state;
    for (size_t r = 0; r < sizeof row / sizeof row[0]; r++) {
        int loud_end = row[r].quiet_frames + row[r].loud_frames;

        for (int i = 0; i < FRAMES; i++)
            samples[i] = i < row[r].quiet_frames || i >= loud_end ? 90 : -9100;
        sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 1, samples, FRAMES);
        assert_int_equal(load(), 0);
        assert_int_equal(bank.clip[CLIP_NINETY].head_frames,
                         row[r].head_frames);
        audio_bank_free(&bank);
    }
}

static void names_a_table_that_is_not_there(void **state)
{
    char path[FOLDER_PATH_SIZE];

    (void)state;
    assert_int_equal(remove(folder_path(&folder, "cues.tsv", path)), 0);
    refused(ERR_ABSENT, "cues.tsv: there is no such file; a voice is a folder "
                        "with this table and its clips");
    assert_int_equal(audio_bank_load("/dev/null", &bank, why, sizeof why),
                     ERR_ABSENT);
}

static void names_a_clip_that_is_not_there(void **state)
{
    (void)state;
    spoil_row(CLIP_FEET, "feet\tgone.wav\tfeet\t1.00\n");
    refused(ERR_ABSENT, "gone.wav: there is no such file");
}

static void refuses_text_that_is_called_a_clip(void **state)
{
    char path[FOLDER_PATH_SIZE];

    (void)state;
    (void)folder_write(&folder, "word.wav", "hello, hello\n", 13, path);
    refused(ERR_FORMAT, "word.wav: is neither a WAV nor a FLAC file");
    (void)folder_write(&folder, "word.wav", "", 0, path);
    refused(ERR_FORMAT, "word.wav: is neither a WAV nor a FLAC file");
}

static void refuses_a_folder_in_place_of_a_clip(void **state)
{
    char path[FOLDER_PATH_SIZE];

    (void)state;
    assert_int_equal(mkdir(folder_path(&folder, "sub", path), 0700), 0);
    spoil_row(CLIP_STALL, "stall\tsub\tstall\t1.00\n");
    refused(ERR_FORMAT, "sub: is not a file");
}

static void refuses_another_rate_and_two_channels(void **state)
{
    (void)state;
    sound_write_wav(&folder, "word.wav", 44100, 1, samples, FRAMES);
    refused(ERR_FORMAT,
            "word.wav: has 44100 samples a second; 48000 are wanted");
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 2, samples, FRAMES);
    refused(ERR_FORMAT, "word.wav: has 2 channels; one is wanted");
}

static void refuses_a_clip_that_is_empty_or_too_long(void **state)
{
    int16_t *much = calloc(AUDIO_RATE_HZ * 6, sizeof *much);

    (void)state;
    assert_non_null(much);
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 1, samples, 0);
    refused(ERR_RANGE,
            "word.wav: lasts 0.00 s; above 0 and at most 5 s is wanted");
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 1, much,
                    AUDIO_RATE_HZ * 6);
    refused(ERR_RANGE,
            "word.wav: lasts 6.00 s; above 0 and at most 5 s is wanted");
    free(much);
}

static void refuses_what_no_clip_can_be(void **state)
{
    (void)state;
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 64, samples, FRAMES);
    refused(ERR_FORMAT, "word.wav: has 64 channels; one is wanted");
    sound_write_wav(&folder, "word.wav", 384000, 1, samples, FRAMES);
    refused(ERR_FORMAT,
            "word.wav: has 384000 samples a second; 48000 are wanted");
}

static void refuses_a_file_of_more_than_a_mebibyte(void **state)
{
    enum { MOST = 1 << 20 };
    char path[FOLDER_PATH_SIZE];
    char *much = calloc(MOST + 1, 1);

    (void)state;
    assert_non_null(much);
    (void)folder_write(&folder, "word.wav", much, MOST, path);
    refused(ERR_FORMAT, "word.wav: is neither a WAV nor a FLAC file");
    (void)folder_write(&folder, "word.wav", much, MOST + 1, path);
    refused(ERR_RANGE, "word.wav: is too large for a clip; at most 1 MiB");
    free(much);
}

/* A pipe that nobody writes to would hold whoever opens it for ever. */
static void refuses_a_pipe_without_waiting_for_a_writer(void **state)
{
    char path[FOLDER_PATH_SIZE];

    (void)state;
    assert_int_equal(mkfifo(folder_path(&folder, "pipe", path), 0600), 0);
    spoil_row(CLIP_STALL, "stall\tpipe\tstall\t1.00\n");
    refused(ERR_FORMAT, "pipe: is not a file");
    assert_int_equal(remove(folder_path(&folder, "cues.tsv", path)), 0);
    assert_int_equal(mkfifo(path, 0600), 0);
    refused(ERR_ABSENT, "cues.tsv: cannot be read as the table of a voice");
}

static void takes_no_device_for_a_file(void **state)
{
    (void)state;
    assert_int_equal(file_size("/dev/zero"), ERR_FORMAT);
}

static void link_to(const char *target, const char *name)
{
    char path[FOLDER_PATH_SIZE];

    (void)remove(folder_path(&folder, name, path));
    assert_int_equal(symlink(target, path), 0);
}

static void refuses_links_that_lead_out_of_the_folder(void **state)
{
    static const char leads_out[] =
        "is a link that leads out of the voice's folder";
    struct folder other = {0};
    char target[FOLDER_PATH_SIZE + 20];
    char wanted[120];

    (void)state;
    folder_make(&other);
    sound_write_wav(&other, "word.wav", AUDIO_RATE_HZ, 1, samples, FRAMES);
    (void)sound_write_table(&other, "word.wav");
    (void)snprintf(wanted, sizeof wanted, "word.wav: %s", leads_out);
    (void)snprintf(target, sizeof target, "%s/word.wav", other.path);
    link_to(target, "word.wav");
    refused(ERR_FORMAT, wanted);
    link_to("/dev/zero", "word.wav");
    refused(ERR_FORMAT, wanted);
    link_to(other.path, "sub");
    link_to("sub/word.wav", "word.wav");
    refused(ERR_FORMAT, wanted);
    link_to("nowhere", "word.wav");
    refused(ERR_ABSENT, "word.wav: there is no such file");
    (void)snprintf(wanted, sizeof wanted, "cues.tsv: %s", leads_out);
    (void)snprintf(target, sizeof target, "%s/cues.tsv", other.path);
    link_to(target, "cues.tsv");
    refused(ERR_ABSENT, wanted);
    folder_remove(&other);
}

/* "voice" is how "voice-2" begins, and not where it lies. */
static void takes_no_folder_of_a_longer_name_for_the_folder(void **state)
{
    char path[FOLDER_PATH_SIZE];
    char inner[FOLDER_PATH_SIZE];
    struct folder longer = {0};

    (void)state;
    assert_int_equal(mkdir(folder_path(&folder, "voice", inner), 0700), 0);
    assert_int_equal(mkdir(folder_path(&folder, "voice-2", longer.path), 0700),
                     0);
    (void)folder_write(&longer, "word.wav", "", 0, path);
    assert_true(file_strays(inner, path));
    assert_false(file_strays(longer.path, path));
    assert_false(file_strays("/", path));
}

static void follows_links_that_stay_in_the_folder(void **state)
{
    char link[FOLDER_PATH_SIZE];
    struct folder other = {0};

    (void)state;
    link_to("word.wav", "again.wav");
    spoil_row(CLIP_STALL, "stall\tagain.wav\tstall\t1.00\n");
    assert_int_equal(load(), 0);
    audio_bank_free(&bank);
    /* The folder may be reached by a link: it is where that leads. */
    folder_make(&other);
    assert_int_equal(symlink(folder.path, folder_path(&other, "voice", link)),
                     0);
    assert_int_equal(audio_bank_load(link, &bank, why, sizeof why), 0);
    folder_remove(&other);
}

static void refuses_a_file_that_leads_out_of_the_folder(void **state)
{
    static const char *const name[] = {
        "../word.wav", "/etc/passwd",   "..",         "sub/word.wav",
        ".hidden.wav", "sub\\word.wav", "c:word.wav", ""};

    (void)state;
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        char row[120];
        char wanted[200];

        (void)snprintf(row, sizeof row, "stall\t%s\tstall\t1.00\n", name[i]);
        (void)snprintf(wanted, sizeof wanted,
                       "cues.tsv:1: file \"%s\": must be the name of a file "
                       "in the same folder",
                       name[i]);
        spoil_row(CLIP_STALL, row);
        refused(ERR_FORMAT, wanted);
    }
}

static void tells_the_line_of_a_row_that_is_wrong(void **state)
{
    (void)state;
    spoil_row(CLIP_LESS_BANK, "less-bank\tword.wav\tless bank\n");
    refused(ERR_FORMAT, "cues.tsv:4: too few columns; four are wanted, "
                        "separated by one tab each: clip, file, text, stretch");
    spoil_row(CLIP_LESS_BANK, "less-bank\tword.wav\tless bank\t1\t2\n");
    refused(ERR_FORMAT, "cues.tsv:4: too many columns; four are wanted, "
                        "separated by one tab each: clip, file, text, stretch");
    spoil_row(CLIP_LESS_BANK, "no-bank\tword.wav\tno bank\t1.00\n");
    refused(ERR_FORMAT, "cues.tsv:4: there is no clip named \"no-bank\"");
    spoil_row(CLIP_LESS_BANK, "stall\tword.wav\tstall\t1.00\n");
    refused(ERR_FORMAT, "cues.tsv:4: clip \"stall\" was already in line 1");
}

static void tells_which_clip_has_no_row_and_where_the_table_ends(void **state)
{
    char wanted[120];

    (void)state;
    spoil_row(CLIP_FEET, "# feet are not said\n");
    (void)snprintf(
        wanted, sizeof wanted,
        "cues.tsv:%d: the table ends without a row for clip \"feet\"",
        CLIP_COUNT);
    refused(ERR_FORMAT, wanted);
}

static void refuses_a_table_that_is_none(void **state)
{
    char path[FOLDER_PATH_SIZE];
    char text[3000];

    (void)state;
    memset(text, 'x', sizeof text);
    (void)folder_write(&folder, "cues.tsv", text, sizeof text, path);
    refused(ERR_FORMAT, "cues.tsv:1: this is no table of a voice: lines of at "
                        "most 254 characters, at most 1000 lines");
    memset(text, '\n', sizeof text);
    (void)folder_write(&folder, "cues.tsv", text, sizeof text, path);
    refused(ERR_FORMAT, "cues.tsv:1001: this is no table of a voice: lines of "
                        "at most 254 characters, at most 1000 lines");
}

static void reads_lines_that_end_as_on_other_systems(void **state)
{
    (void)state;
    spoil_row(CLIP_FEET, "feet\tword.wav\tfeet\t1.00\r\n");
    assert_int_equal(load(), 0);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(loads_every_clip_as_it_is_in_the_file),
        CASE(rounds_finer_samples_to_the_nearest_of_16_bits),
        CASE(keeps_coarser_samples_and_16_bits_as_they_are),
        CASE(knows_where_a_clip_is_first_heard),
        CASE(names_a_table_that_is_not_there),
        CASE(names_a_clip_that_is_not_there),
        CASE(refuses_text_that_is_called_a_clip),
        CASE(refuses_a_folder_in_place_of_a_clip),
        CASE(refuses_another_rate_and_two_channels),
        CASE(refuses_a_clip_that_is_empty_or_too_long),
        CASE(refuses_what_no_clip_can_be),
        CASE(refuses_a_file_of_more_than_a_mebibyte),
        CASE(refuses_a_pipe_without_waiting_for_a_writer),
        CASE(takes_no_device_for_a_file),
        CASE(refuses_links_that_lead_out_of_the_folder),
        CASE(takes_no_folder_of_a_longer_name_for_the_folder),
        CASE(follows_links_that_stay_in_the_folder),
        CASE(refuses_a_file_that_leads_out_of_the_folder),
        CASE(tells_the_line_of_a_row_that_is_wrong),
        CASE(tells_which_clip_has_no_row_and_where_the_table_ends),
        CASE(refuses_a_table_that_is_none),
        CASE(reads_lines_that_end_as_on_other_systems),
    };

    return cmocka_run_group_tests_name("clip bank", tests, NULL, NULL) != 0;
}
