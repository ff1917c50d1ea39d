"""The languages in which a renter's page can be printed, by ISO 639-1 code, each in its own name."""

ENGLISH = "en"
LANGUAGES = {
    ENGLISH: "English",
    "de": "Deutsch",
    "es": "Español",
    "fr": "Français",
    "el": "Ελληνικά",
    "it": "Italiano",
    "cs": "Čeština",
    "pl": "Polski",
}
