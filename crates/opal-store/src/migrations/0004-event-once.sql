-- A device that was out of reach may send an event twice: its own mark, where it
-- gave one, stands once for each stone.
CREATE UNIQUE INDEX event_once ON event (stone, json_extract(body, '$.once'))
    WHERE json_extract(body, '$.once') IS NOT NULL;
