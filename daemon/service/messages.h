/* What a WebSocket's client may say, one JSON object a message: docs/wire.md, "WebSocket". */
#pragma once
#include "service/clients.h"

void messages_take(struct client *client, const char *text, size_t size);
