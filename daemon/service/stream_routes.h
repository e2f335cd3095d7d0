/* Topics over HTTP: the snapshot of one, its stream of server-sent events, and a mat's sentences as
 * plain text. docs/wire.md, "Addresses".
 * `path` is a topic; `name` a mat's. */
#pragma once
#include "service/asker.h"

void topic_get(const struct asker *asker, const char *topic);
void sse_get(const struct asker *asker, const char *path);
void text_get(const struct asker *asker, const char *name);
