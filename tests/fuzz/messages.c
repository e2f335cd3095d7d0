/* Any bytes as what people send to a running daemon: an input that begins with "WS\n" is messages
 * of a WebSocket, a line each; any other one HTTP request. The daemon is whole (its service, its
 * store on disk, its loop), but for the sockets (fake_net.h). What one input left stands when the
 * next comes: a folder of inputs is played in the order of their names.
 *
 * The daemon hands over when it listens, so this file has a main of its own: with files and folders
 * as arguments it plays them, else it is a fuzzer's. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "fake_net.h"
#include "fuzz.h"
#include "net/listening.h"
#include "service/service.h"

static struct service *the_service;
static char **arguments;
static int argument_count;

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data;
    if (size >= 3 && memcmp(text, "WS\n", 3) == 0)
        fake_talk(text + 3, size - 3);
    else
        fake_request(text, size);
    for (int turn = 0; turn < 200 && (turn < 3 || fake_open_requests() > 0); turn++)
        uv_run(&the_service->loop, turn < 3 ? UV_RUN_NOWAIT : UV_RUN_ONCE);
    HOLDS(fake_open_requests() == 0);
    fake_give_up();
    return 0;
}

#ifdef FUZZER
int LLVMFuzzerRunDriver(int *argc, char ***argv, int (*one)(const uint8_t *data, size_t size));
static int go(void)
{
    return LLVMFuzzerRunDriver(&argument_count, &arguments, LLVMFuzzerTestOneInput);
}
#else
int replay(int argc, char **argv);
static int go(void)
{
    return replay(argument_count, arguments);
}
#endif

static int result;

/* A code that isn't 0 ends the daemon: it has done its work. */
static int on_listening(void *context, struct service *service)
{
    (void)context;
    the_service = service;
    result = go();
    return 4;
}

int main(int argc, char **argv)
{
    char folder[] = "/tmp/boutwire-fuzz-XXXXXX", store[64], command[96];
    const struct listening listening = {.host = "127.0.0.1"};
    const struct front front = {.trusted_count = 0};
    arguments = argv;
    argument_count = argc;
    HOLDS(mkdtemp(folder) != NULL);
    snprintf(store, sizeof store, "%s/day.sqlite", folder);
    const struct service_options options = {
        .listen = &listening,
        .listen_count = 1,
        .front = &front,
        .store = store,
        .report_level = REPORT_ERROR,
        .editions = fuzz_editions(),
        .language = fuzz_language(),
        .public_minors = true,
        .connections = 100,
        .connections_per_address = 100,
        .listening = on_listening,
    };
    service_run(&options);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    HOLDS(system(command) == 0);
    return result;
}
