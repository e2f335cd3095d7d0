/* What the daemon answers at its addresses: docs/wire.md, "Addresses". */
#pragma once
#include "service/service.h"

void routes_request(struct service *service, struct request *request);
/* The request's client has gone before its answer. */
void routes_abandoned(struct service *service, struct request *request);
