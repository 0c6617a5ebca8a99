"""Knows the paths of the jobs app; each noun brings its own lines."""

from django.urls import URLPattern, path

from jobs.views import customer, job, member, part, shop, survey, vehicle

app_name = "jobs"
urlpatterns: list[URLPattern] = [
    # job
    path("", job.job_board, name="job_board"),
    path("search/", job.job_search, name="job_search"),
    path("jobs/new/", job.job_create, name="job_create"),
    path("jobs/<int:pk>/", job.job_detail, name="job_detail"),
    path("jobs/<int:pk>/edit/", job.job_edit, name="job_edit"),
    path("jobs/<int:pk>/move/", job.job_move, name="job_move"),
    path("jobs/<int:pk>/papers/", job.job_papers, name="job_papers"),
    path("jobs/<int:pk>/log/", job.job_log, name="job_log"),
    # customer
    path("customers/", customer.customer_list, name="customer_list"),
    path("customers/new/", customer.customer_create, name="customer_create"),
    path("customers/<int:pk>/", customer.customer_detail, name="customer_detail"),
    path("customers/<int:pk>/edit/", customer.customer_edit, name="customer_edit"),
    # vehicle
    path("customers/<int:pk>/vehicles/new/", vehicle.vehicle_create, name="vehicle_create"),
    path("vehicles/<int:pk>/", vehicle.vehicle_detail, name="vehicle_detail"),
    path("vehicles/<int:pk>/edit/", vehicle.vehicle_edit, name="vehicle_edit"),
    # part
    path("catalogue/", part.part_list, name="part_list"),
    path("catalogue/new/", part.part_create, name="part_create"),
    path("catalogue/new/<slug:kind>/", part.part_create, name="part_create"),
    path("catalogue/<int:pk>/", part.part_detail, name="part_detail"),
    path("catalogue/<int:pk>/edit/", part.part_edit, name="part_edit"),
    # shop
    path("shop/", shop.shop_edit, name="shop_edit"),
    # member
    path("people/", member.member_list, name="member_list"),
    path("people/new/", member.member_create, name="member_create"),
    path("people/<int:pk>/", member.member_edit, name="member_edit"),
    path("people/<int:pk>/link/", member.member_link, name="member_link"),
    # survey
    path("jobs/<int:job_pk>/survey/", survey.survey_detail, name="survey_detail"),
    path("jobs/<int:job_pk>/survey/<slug:part>/", survey.survey_edit, name="survey_edit"),
    path("places/", survey.place_search, name="place_search"),
]
