"""A small invented firm as the text of its files, and what tests of import and export share."""

from contextlib import contextmanager

from django.apps import apps
from django.db import transaction

from jobs.services.importing import import_firm

START = {
    "appliances": "appliance,customer,address,post_area,model\n"
    "A1,Ines Holm,3 Mill Row,HV1,Calder 24\n"
    "A2,Ines Holm,3 Mill Row,HV1,Calder 24\n",
    "parts": "part,description,covers,fits\nP-PUMP,Pump head,circulating-pump,*\n",
}

WHOLE = {
    "settings": "setting,value\nfirm_name,Hollin Vale Heating\nlabour cost per hour,31.50\ncall-out,48\n",
    "component_types": "component,name,hazards,approved_new_only,fitting_hours,wears,prior_failures_per_100_years\n"
    "pump,Pump,mains;pressurised-hot-water,no,0.5;0.75;1.5,wear-out,1.5\n"
    "valve,Gas valve,gas;combustion;mains,yes,1,Wear Out,0.6\n"
    "seal,Seal,none,no,0.2,,\n",
    "appliance_models": "model,maker,name,kind,components,uk_number\n"
    "C24,Calderby,Calder 24,gas-combi,pump;valve;seal*2,\n"
    "T9,Tarnworks,Tarn 9,Gas System,pump,\n",
    "parts": "part,description,covers,fits,grade,gtin,superseded_by,litres,kilograms,guarantee_months\n"
    "P1,Pump head,pump,*,,6291041500213,,1.2,0.8,24\n"
    "P2,Pump with seal,pump;seal,C24,Approved Equivalent,,,1.5,1,\n"
    "V1,Gas valve,valve,C24,maker-new,,V2,,,\n"
    "V2,Gas valve mark 2,valve,C24;T9,,,,,,\n"
    "S1,Seal,seal,*,,,,0.01,0.005,\n",
    "recipes": "component,parts,fits\npump,P1;S1*2,T9\n",
    "suppliers": "supplier,lead_time_days,same_day,carriage,carriage_free_over,email\n"
    "Brook Supplies,1,yes,,,\nNorth Depot,3,no,6.50,150,orders@example.com\n",
    "prices": "supplier,supplier_part,part,pack,price_ex_vat,valid_from,minimum,vat_rate,surcharge\n"
    "Brook Supplies,BP1,P1,1,48.00,2020-01-01,,20,\n"
    "Brook Supplies,BP1,P1,1,52.50,2022-01-01,,20,5\n"
    "North Depot,N-10,S1,10,12.34,2020-01-01,2,,\n",
    "places": "place,kind,engineer,litres,kilograms,budget,post_areas\n"
    "store,store,,,,,\nvan 1,van,Asha Rao,900,400,1500,HV1;HV2\n",
    "stock": "place,part,quantity,unit_cost,carry_level\n"
    "store,P1,4,50,6\nvan 1,P1,1,51,2\nvan 1,S1,12,1.3,\nvan 1,V2,0,90,1\n",
    "customers": "customer,name,phone,email,billing_address\n"
    'K1,Ines Holm,01632 960001,,\nK2,Mill Lettings,,office@example.com,"1 Dock St, Hollin"\n',
    "appliances": "appliance,customer,address,post_area,model,in_care_from,installed_on,serial,in_care_until,"
    "end_reason,service,phone,access_note\n"
    "A1,K1,3 Mill Row,HV1,C24,2019-03-01,2015-06,0012,,,yes,,Dog\n"
    "A2,K2,9 Weir St,HV2,T9,,2012,,2024-05-01,sold,,01632 960002,\n",
    "earlier": "appliance,component,position,renewed_on\nA1,pump,,2017\nA1,seal,2,\n",
    "jobs": "job,appliance,kind,reported_on,symptoms,fault_code,return_of\n"
    "J1,A1,breakdown,2021-11-03,no heat upstairs;No hot water heating OK,F2,\n"
    "J2,A1,breakdown,2021-11-20,,,J1\n"
    "J3,A2,service,2022-05-02,,,\n",
    "visits": "visit,job,engineer,place,on,outcome,time,minutes\n"
    "V1,J1,Asha Rao,van 1,2021-11-04,part needed,08:30,40\n"
    "V2,J1,Asha Rao,van 1,2021-11-06,fixed,,55\n"
    "V3,J2,Asha Rao;Ben Lund,van 1,2021-11-21,FIXED,,30;45\n"
    "V4,J3,Ben Lund,store,2022-05-02,no-part-needed,,\n",
    "findings": "visit,appliance,component,position,no_part_cause,failure_mode\n"
    "V1,,pump,1,,no output\nV4,,,,low pressure,\n",
    "fitted": "visit,part,component,quantity,why,appliance,position,unit_cost,charge_ex_vat,from\n"
    "V2,P1,pump,1,failed,,1,,96.50,\n"
    "V2,S1,seal,2,had to come off,,,,,North Depot\n"
    "V3,V2,valve,1,failed,,,88.8,150,store\n",
    "needed": "visit,component,quantity,appliance,part\nV1,pump,1,,P1\n",
    "charges": "job,kind,amount_ex_vat,quantity,vat_rate,description\n"
    "J1,call-out,48,,20,\nJ1,labour,90.25,1.5,20,Two visits\nJ1,labour,90.25,1.5,20,Two visits\n",
}


def write_files(folder, files):
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def take_in(folder, files, **more):
    """Import files given as text; there must be no error."""
    outcome = import_firm(write_files(folder, files), **more)
    assert [str(error) for error in outcome.errors] == []
    return outcome


def faults(folder, files):
    """(file, row, column, value, reason) of every error."""
    outcome = import_firm(write_files(folder, files))
    return [(one.file, one.row, one.column, one.value, one.reason) for one in outcome.errors]


def dump():
    """Every row of every table."""
    return {model._meta.label: list(model.objects.order_by("pk").values()) for model in apps.get_models()}


def texts(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@contextmanager
def undone():
    """What happens inside is rolled back: afterwards the database is empty again."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
