// The clock of the device says which time zone the shop is in; a person may pick another.
const zone = document.querySelector("#f-timezone");
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone && zone.value === "UTC" && [...zone.options].some((one) => one.value === own)) {
  zone.value = own;
}
