"""The paths of the checklists app."""

from django.urls import URLPattern, path

from checklists.views import (
    checklist,
    customer_data,
    day_pull,
    deviation,
    device,
    event,
    failure,
    hand_over,
    hold,
    hours,
    load,
    photo,
    pin,
    plan_change,
    sheet,
    sign_off,
    step,
    table,
    tablet,
    text,
    upload,
)

app_name = "checklists"
urlpatterns: list[URLPattern] = [
    # what failed
    path("shop/failures/", failure.failure_list, name="failure_list"),
    path("shop/failures/<slug:kind>/<int:pk>/", failure.failure_again, name="failure_again"),
    # customer
    path("customers/<int:pk>/data/", customer_data.customer_data, name="customer_data"),
    path("customers/<int:pk>/data/file/", customer_data.customer_data_file, name="customer_data_file"),
    path("customers/<int:pk>/data/erase/", customer_data.customer_erasure, name="customer_erasure"),
    # tablet
    path("tablet/", tablet.tablet, name="tablet"),
    path("tablet/jobs/", tablet.tablet_jobs, name="tablet_jobs"),
    path("sw.js", tablet.tablet_worker, name="tablet_worker"),
    path("tablet.webmanifest", tablet.tablet_manifest, name="tablet_manifest"),
    path("jobs/<int:job_pk>/take-along/", tablet.download, name="take_along"),
    path("jobs/<int:job_pk>/hand-over/", hand_over.hand_over, name="hand_over"),
    # checklist
    path("jobs/<int:job_pk>/install/", checklist.checklist_detail, name="checklist_detail"),
    path("jobs/<int:job_pk>/install/plan/", checklist.checklist_plan, name="checklist_plan"),
    path("jobs/<int:job_pk>/install/revision/", plan_change.plan_change, name="plan_change"),
    # hours and loads
    path("jobs/<int:job_pk>/hours/", hours.hours, name="hours"),
    path("jobs/<int:job_pk>/hours/by-hand/", hours.hours_by_hand, name="hours_by_hand"),
    path("jobs/<int:job_pk>/load/", load.load, name="load"),
    # pull list of a day
    path("schedule/days/<str:day>/", day_pull.day_pull, name="day_pull"),
    path("schedule/orders.csv", day_pull.order_file, name="order_file"),
    # step
    path("steps/<int:pk>/", step.step_detail, name="step_detail"),
    path("steps/<int:pk>/record/", step.step_record, name="step_record"),
    path("steps/<int:pk>/table/", table.table_detail, name="table_detail"),
    path("steps/<int:pk>/table/record/", table.table_record, name="table_record"),
    # text
    path("texts/", text.text_list, name="text_list"),
    path("texts/write/", text.text_write, name="text_write"),
    path("texts/<int:pk>/put-back/", text.text_put_back, name="text_put_back"),
    # hold
    path("steps/<int:pk>/override/", hold.hold_override, name="hold_override"),
    # deviation
    path("deviations/<int:pk>/", deviation.deviation_detail, name="deviation_detail"),
    # photo
    path("jobs/<int:job_pk>/photos/", photo.photo_list, name="photo_list"),
    path("photos/<uuid:pk>/", photo.photo, name="photo"),
    path("photos/<uuid:pk>/small/", photo.photo_small, name="photo_small"),
    # upload
    path("jobs/<int:job_pk>/uploads/", upload.upload_create, name="upload_create"),
    path("uploads/<uuid:pk>/", upload.upload, name="upload"),
    # sign-off
    path("jobs/<int:job_pk>/sign-off/", sign_off.sign_off, name="sign_off"),
    # sheet
    path("jobs/<int:job_pk>/sheet/", sheet.sheet_issue, name="sheet_issue"),
    path("sheets/<int:pk>/", sheet.sheet_detail, name="sheet_detail"),
    path("sheets/<int:pk>/print/", sheet.sheet_reprint, name="sheet_reprint"),
    path("sheets/<int:pk>.pdf", sheet.sheet_pdf, name="sheet_pdf"),
    # event
    path("jobs/<int:job_pk>/events/", event.events, name="events"),
    # device
    path("tablet/hello/", device.hello, name="hello"),
    path("tablet/name/", pin.tablet_name, name="tablet_name"),
    path("tablet/pin/", pin.tablet_pin, name="tablet_pin"),
    path("tablet/unlock/", pin.tablet_unlock, name="tablet_unlock"),
    path("people/tablets/", device.device_list, name="device_list"),
    path("people/tablets/<uuid:pk>/", device.device_change, name="device_change"),
    path("people/held/<int:pk>/", device.held_detail, name="held_detail"),
]
