"""From a yes to the bay: bays and crews, bookings, days from plan hours, waits and dates."""
