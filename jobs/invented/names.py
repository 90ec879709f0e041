"""Invented people, streets, makers and suppliers of the invented town of Marrowby."""

FIRM = "Weir Bank Heating"
TOWN = "Marrowby"
ENGINEERS = ["Bram", "Asha", "Carys", "Dev", "Ewan", "Farida", "Gwen", "Hamish", "Imogen", "Tunde"]

FIRST_NAMES = [
    "Ada", "Alan", "Aisha", "Beth", "Boris", "Cara", "Cyril", "Dawn", "Derek", "Edith", "Elif", "Frank",
    "Freda", "Gita", "Grace", "Harold", "Hilda", "Ivor", "Jaya", "Joan", "Keith", "Lena", "Leroy", "Mabel",
    "Marek", "Nadia", "Ngozi", "Olga", "Omar", "Pearl", "Percy", "Quentin", "Rhoda", "Ruth", "Samir", "Sheila",
    "Terry", "Una", "Vera", "Walter", "Wanda", "Yusuf", "Zofia",
]  # fmt: skip
LAST_NAMES = [
    "Abbot", "Aldous", "Askew", "Bamber", "Birkett", "Bose", "Braith", "Capstick", "Chowdhury", "Corless",
    "Dacre", "Dent", "Eccles", "Fawcett", "Fell", "Garth", "Gill", "Gorst", "Haddow", "Hesketh", "Idle",
    "Iqbal", "Jarvis", "Kendal", "Kitching", "Lamb", "Lund", "Mason", "Moor", "Nairn", "Newby", "Nowak",
    "Okafor", "Osei", "Parr", "Pell", "Quarmby", "Raine", "Rigg", "Sandhu", "Scarr", "Sowden", "Tait",
    "Thwaite", "Tyson", "Umar", "Varley", "Wren", "Wylde", "Yates",
]  # fmt: skip
STREETS = [
    "Weir Terrace", "Bridge Street", "Mill Lane", "Tannery Row", "Church Bank", "Ropewalk", "Station Road",
    "Quarry Hill", "Orchard Close", "Beck View", "Market Place", "Sluice Lane", "Chapel Street", "Heron Drive",
    "Kiln Avenue", "Lower Green", "Upper Green", "Marl Road", "Otter Way", "Pound Lane", "Rowan Crescent",
    "Smithy Fold", "Toll Bar", "Willow Garth",
]  # fmt: skip
LANDLORDS = [
    ("Weirside Lettings", "2 Market Place, Marrowby"),
    ("Marrowby Almshouse Trust", "The Gatehouse, Church Bank, Marrowby"),
    ("Sluice Lane Homes", "40 Sluice Lane, Marrowby"),
    ("Heron Drive Housing", "The Lodge, Heron Drive, Marrowby"),
    ("Tannery Row Lettings", "9 Tannery Row, Marrowby"),
]
ACCESS_NOTES = [
    "Key with the neighbour",
    "Ring before coming",
    "Dog in the yard",
    "Boiler in the loft, bring the long ladder",
    "Entrance from the back lane",
    "Nobody in before four",
]
END_REASONS = [
    "moved away",
    "house sold",
    "another firm took over",
    "replaced by others",
    "customer died",
]

# name, lead time in days, same-day collection, carriage, carriage free over, month of its yearly price file
SUPPLIERS = [
    ("Dunmere Supplies", 1, False, 7.50, 150, 2),
    ("Ellerwath Parts", 2, False, 6.95, 120, 4),
    ("Marrowby Trade Counter", 1, True, 0, 0, 1),
    ("Thornmere Heating Spares", 3, False, 9.00, 250, 7),
    ("Garsbeck Direct", 4, False, 4.95, 75, 10),
]
