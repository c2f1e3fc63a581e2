// The set-up page: this PC's own time zone stands chosen, until somebody chooses another.

const zone = document.querySelector("select[data-own]");
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone && [...zone.options].some((option) => option.value === own)) zone.value = own;
